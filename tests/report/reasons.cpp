// What the pages say of why: a set that costs less, a resin that would do, the lines of a trial.
#include <catch2/catch.hpp>

#include "report/html.hpp"
#include "small.hpp"

namespace {

std::string schedule_of(const Inspection& r) { return say(in_one_sentence(pipeline::schedule_words(r))); }

}  // namespace

TEST_CASE("A thinner resin is told with the pump rates that it takes, where they are not the advised ones") {
  Inspection r = full_inspection();
  r.advice.to_be_in_time[0].second = 1.6;
  CHECK_THAT(schedule_of(r), Catch::Contains("would fill in 1 min 35 s, pumped at up to 1.6 times the advised rates"));
  r.advice.to_be_in_time[0].second = 1.01;
  CHECK_THAT(schedule_of(r), !Catch::Contains("pumped"));
}

TEST_CASE("Where the advised fill gels the note says so, and no time in which it would be full") {
  Inspection r = full_inspection();
  CHECK_THAT(schedule_of(r), Catch::Contains("the fastest takes 2 min 30 s"));
  r.advice.advised.gelled = true;
  CHECK_THAT(schedule_of(r), Catch::Contains("fills the mold before the resin gels, after 1 min 40 s"));
  CHECK_THAT(schedule_of(r), !Catch::Contains("fastest"));
}

TEST_CASE("A page, which knows no job, says as the terminal does that the resin gels first") {
  const Inspection r = full_inspection();
  const std::string words = "The mold is not full when the resin gels";
  CHECK_THAT(report::outcome_line(r), Catch::Contains(words));
  CHECK_THAT(report::report_html(r), Catch::Contains(words));
}

TEST_CASE("Why a cheaper set was not chosen is said where one is listed, and only there") {
  Inspection r = full_inspection();
  CorrectionPlan& p = r.plan;
  p.prices = {.currency = "EUR", .resin = 0.005, .glass = 0.004, .hour = 60, .bad_part = 400, .parts = 200};
  const auto said = [&](double cheapest) {
    p.options = {{{}, 0, {}, 0.3, 9000}, {{0}, 2, {}, 0.1, cheapest}, {p.chosen, 4, {}, 0.1, 5000}};
    return report::options_table(p, {}).find("A cheaper set in this list") != std::string::npos;
  };
  CHECK(said(4800));
  CHECK_FALSE(said(4999.8));  // printed alike
  CHECK_FALSE(said(5200));
}

TEST_CASE("A page's trials know what each correction sets and which port it is of") {
  Inspection r = full_inspection();
  LiveCase c = live::unpack(r.live);
  Correction vent;
  vent.name = "C8", vent.kind = Kind::vent_add, vent.face = "port", vent.port = "vent 2", vent.port_radius = 6.25;
  vent.port_to = {Vec3(5, 5, 0)};
  Correction pump;
  pump.name = "C9", pump.kind = Kind::pump_steps, pump.face = "settings", pump.setting = 6e4;
  pump.schedule = {{0, 1000}, {5000, 400}};
  c.corrections = {vent, pump};
  r.live = live::pack(c);
  const std::string page = report::trial_scripts(r);
  CHECK_THAT(page, Catch::Contains(R"("port":{"adds":true,"kind":"vent","name":"vent 2"})"));
  CHECK_THAT(page, Catch::Contains(R"("sets":{"limit":60000.0,"schedule":[[0.0,1000.0],[5000.0,400.0]]})"));
}
