// What holds the mold shut, through result.json and onto the page.
#include <catch2/catch.hpp>
#include <cmath>

#include "report/describe/front.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/writer.hpp"
#include "report/html.hpp"
#include "small.hpp"
#include "units/inch.hpp"

using namespace gapfront;

namespace {

constexpr double newton = 1e6;  // Pa·mm²

/// Written, read back, and written alike.
template <class T>
T read_back(const T& x) {
  report::Writer first, second;
  first("x", x);
  T back{};
  report::Reader(report::Json::parse(first.out.dump()), 5)("x", back);
  second("x", std::as_const(back));
  CHECK(first.out == second.out);
  return back;
}

}  // namespace

TEST_CASE("Closing, opening, advice and glass are read back as they were written") {
  Closing c;
  c.closing = 750 * newton, c.reinforcement = 1000.5 * newton, c.area = 5e4, c.stands_open = 0.149;
  c.regions = {{Vec3(1, 2, 3), 40, 10 * newton, 0.01}};
  read_back(c);
  Opening o;
  o.dry = {0, 3500 * newton, 0, 4e4, 2};  // nothing opens: the safety has no number
  o.history = {o.dry, {1.5, 2 * newton, 3 * newton, -1e4, 0}};
  read_back(o);
  ProcessAdvice a;
  a.steps = {{0, 2e4}, {5e4, 1e4}}, a.pressure_limit = -500;
  a.own.min_safety = INFINITY, a.advised.fill_time = 12.25, a.bound_by_opening = true;
  a.mode = PumpMode::pressure, a.keeps_limits = a.in_time = false, a.gel_time = 10, a.own.limit_from = 0.05;
  a.to_be_in_time = {{ProcessChange::Kind::higher_limit, 5e4, 2e9, Vec3(1, 2, 3), 9}};
  CHECK(read_back(a).own.min_safety == INFINITY);
  a.help = {OpeningHelp::Reason::vacuum_gone, 1.25, 1, {{ProcessChange::Kind::clamping, 3e9}}};
  read_back(a);
  Breathing b;
  CHECK_FALSE(read_back(b).computed);
  b.computed = b.converged = true, b.changes = {0.1, 0.0004};
  b.dry.minimum = -0.3, b.dry.min_node = 1, b.filling.maximum = 0.1, b.worst.max_node = 2;
  b.as_scanned = {12, 3, 0.5, 0.25}, b.at_dry = {14, 0, 0, 2}, b.at_worst = {10, 1, 3, 0};
  read_back(b);
  const std::vector<ZoneState> zones{{"", 1, 2, 3, 4, 5 * newton, 0.1, 0.2, 0.3, 0.4}, {"patch"}};
  read_back(zones);
  LaminateOptions reinforcement, read;
  reinforcement.plies = {{laminate::find_reinforcement("woven roving 600"), 2, 0}};
  reinforcement.zones.resize(1);
  reinforcement.zones[0].name = "patch", reinforcement.zones[0].plies = reinforcement.plies;
  report::put_plies(read_back(report::ply_lines(reinforcement)), read);
  CHECK(read.plies.at(0).count == 2);
  CHECK(read.zones.at(0).name == "patch");
}

TEST_CASE("The page says in one sentence whether the mold closes and stays closed") {
  Inspection r;
  r.filling.opening.history.resize(1);
  r.closing.closing = 2000 * newton, r.closing.reinforcement = 500 * newton;
  r.filling.opening.force = {12, 1500 * newton, 900 * newton, 0, 0};
  CHECK_THAT(report::clamping_sentence(r), Catch::Contains("stays closed") && Catch::Contains("0.90\u00a0kN"));
  r.filling.opening.force.opening = 1600 * newton;
  CHECK_THAT(report::clamping_sentence(r), Catch::Contains("The mold opens:"));
  r.closing.reinforcement = 2500 * newton, r.closing.stands_open = 0.15;
  CHECK_THAT(report::clamping_sentence(r), Catch::Contains("cannot close") && Catch::Contains("0.150\u00a0mm"));
}

TEST_CASE("Where the advised schedule keeps the mold closed, it is not said that no setting does") {
  Inspection r;
  r.closing.closing = 2000 * newton, r.closing.reinforcement = 500 * newton;
  r.filling.opening.force = {12, 900 * newton, 3000 * newton, 0, 0};
  ProcessAdvice& a = r.advice;
  a.help = {OpeningHelp::Reason::vacuum_gone, 1.25, 1.25, {{ProcessChange::Kind::clamping, 3e9}}};
  const auto said = [&] { return say(in_one_sentence(pipeline::opening_words(r))); };
  CHECK_THAT(said(), Catch::Contains("no injection setting helps: where resin has come"));
  a.mode = PumpMode::rates, a.pressure_limit = -1000, a.advised.min_margin = 40 * newton, a.advised.min_safety = 1.92;
  a.own.fill_time = 4.3, a.own.dry_area = 2400, a.advised.fill_time = 16.7, a.advised.dry_area = 3300;
  CHECK_THAT(said(), Catch::Contains("with the inlet at least 0.01 bar below atmosphere: it fills in 17 s in place of "
                                     "4.3 s, and leaves 33 cm² dry in place of 24 cm²") &&
                         !Catch::Contains("no injection setting"));
  a.pressure_limit = 9000;
  CHECK_THAT(said(), Catch::Contains("with no more than 0.09 bar above atmosphere at the inlet"));
  a.in_time = false;
  CHECK_THAT(said(), Catch::Contains("no injection setting helps that fills the mold before the resin gels"));
  a.in_time = true, a.advised.min_margin = -1 * newton, a.advised.min_safety = 0.99;
  CHECK_THAT(said(), Catch::Contains("no injection setting helps: where"));
}

TEST_CASE("An advised schedule counts what is injected in the unit of its rate: litres, or US gallons") {
  Inspection r = small_inspection();
  r.advice.mode = PumpMode::rates, r.advice.steps = {{0, 2e4}, {0.25 * gallon, 1e4}, {2.5 * gallon, 5e3}};
  const std::string litres = report::clamping_section(r);
  CHECK_THAT(litres, Catch::Contains("0.946 L<") && Catch::Contains("9.5 L<"));
  r.job.units = UnitSystem::inch;
  const std::string gallons = report::clamping_section(r);
  CHECK_THAT(gallons, Catch::Contains("0.250 gal<") && Catch::Contains("2.5 gal<"));
  CHECK(gallons.find(" L<") == std::string::npos);
}
