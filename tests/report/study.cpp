#include <catch2/catch.hpp>

#include "gapfront/report.hpp"
#include "gapfront/study.hpp"
#include "small.hpp"
#include "unsaid.hpp"

namespace {

StudiedFill filled(double time, int hits, double balance) {
  StudiedFill f;
  f.key = "k" + std::to_string(time), f.fill_time = time, f.balance = balance;
  f.air = conformity::chance_of(hits, 64);
  f.arrival = {0, 0.5 * time, time, std::numeric_limits<double>::infinity()};
  return f;
}

Alternatives three(const std::string& language) {
  Alternatives plan;
  plan.job.name = "Small", plan.job.language = language, plan.groups = {"vents"};
  for (const char* name : {"north", "south", ""}) plan.all.push_back({{name}, plan.job});
  return plan;
}

Study small_study() {
  Study s;
  s.mesh = small_inspection().sheet.mesh;
  s.fills = {filled(10, 8, 2), filled(20, 8, 2), filled(30, 0, 1.5)};
  return s;
}

}  // namespace

TEST_CASE("An alternative is beaten by one that is no worse in anything and better in something") {
  // The second fills later than the first and is better in nothing; the third fills last, but never traps air.
  CHECK(pipeline::not_beaten(small_study().fills) == std::vector<bool>{true, false, true});
  CHECK(pipeline::not_beaten({filled(10, 3, 2), filled(10, 3, 2)}) == std::vector<bool>{true, true});
}

TEST_CASE("An alternative is not called better for so few drawn fillings as prove nothing") {
  CHECK(pipeline::not_beaten({filled(10, 4, 2), filled(20, 0, 2)}) == std::vector<bool>{true, false});
  CHECK(pipeline::not_beaten({filled(10, 5, 2), filled(20, 0, 2)}) == std::vector<bool>{true, true});
  CHECK(pipeline::not_beaten({filled(10, 5, 2), filled(10, 0, 2)}) == std::vector<bool>{false, true});
  // Each beats the next by what the other two are alike in: none of the ring goes, what one of them beats does.
  const std::vector<StudiedFill> ring{filled(100.81, 2, 2.0127), filled(100.11, 4, 2.0065), filled(100.48, 7, 2.0194)};
  CHECK(pipeline::not_beaten(ring) == std::vector<bool>{true, true, true});
}

TEST_CASE("A study of which no alternative fills the mold says so first") {
  Study s = small_study();
  const auto said = [&] {
    return report::study_html(three("en"), s).find("None of them fills the mold") != std::string::npos;
  };
  CHECK_FALSE(said());
  for (StudiedFill& f : s.fills) f.dry_area = 500, f.air = conformity::chance_of(64, 64);
  CHECK(said());
  s.fills[1].air = {};  // no fillings drawn: the one decides
  CHECK(said());
  s.fills[1].dry_area = 100;  // a speck below the least dry spot, 2 cm²
  CHECK_FALSE(said());
  s.fills[1].dry_area = 500, s.fills[1].air = conformity::chance_of(63, 64);
  CHECK_FALSE(said());
}

TEST_CASE("The page of a study leaves nothing in English") {
  const std::string page = report::study_html(three("marked"), small_study());
  CHECK(unsaid(page) == std::vector<std::string>{});
  for (const char* name : {"north", "south"}) CHECK(page.find(name) != std::string::npos);
}

TEST_CASE("Alternatives that come to the same share a label, and the maps one scale up to the last arrival") {
  Study s = small_study();
  s.fills = {filled(528.4, 8, 2), filled(528, 8, 2), filled(520, 0, 1.5)};
  const std::string page = report::study_html(three("en"), s);
  CHECK_THAT(page, Catch::Contains("\"end\">1, 2</text>"));
  CHECK_THAT(page, Catch::Contains("dry area, mean of the drawn fillings"));
  CHECK_THAT(page, !Catch::Contains("class=\"beyond\""));  // nothing beyond the ends of a bar
  CHECK_THAT(page, Catch::Contains("3 of 3 alternatives are worth choosing from"));
}

TEST_CASE("Where the pump stands at its limit the page says why another rate changes nothing") {
  Study s = small_study();
  s.fills = {filled(528.4, 8, 2), filled(528, 8, 2), filled(520, 0, 1.5)};
  Alternatives plan = three("en");
  for (std::size_t k = 0; k < 3; ++k) {
    plan.all[k].job.flow.schedule = {{0, 1000.0 * static_cast<double>(k + 1)}},
    plan.all[k].job.flow.pressure_limit = 4e4;
    s.fills[k].inlet_pressure = 4e4;
  }
  CHECK_THAT(report::study_html(plan, s), Catch::Contains("Alternatives 1, 2 differ in the pump rate"));
  s.fills[1].inlet_pressure = 3e4;  // there it is not the limit
  CHECK_THAT(report::study_html(plan, s), !Catch::Contains("differ in the pump rate"));
}

TEST_CASE("What is written of a study is read again; anything else is computed anew") {
  const std::string text = report::study_json(three("en"), small_study());
  const Study again = report::read_study(text);
  REQUIRE(again.fills.size() == 3);
  CHECK(report::study_json(three("en"), again) == text);
  CHECK(std::isinf(again.fills[0].arrival[3]));
  CHECK(report::read_study(text.substr(0, text.size() / 2)).fills.empty());
  CHECK(report::read_study("{\"format\": \"gapfront result\"}").fills.empty());
}

TEST_CASE("What gels before it is full is told in its row, beats nothing and is not worth choosing") {
  Study s = small_study();
  s.fills[0].gel_time = 6, s.fills[0].gelled_area = 4000;  // the fastest of the three
  CHECK(pipeline::not_beaten(s.fills) == std::vector<bool>{false, true, true});
  CHECK_FALSE(pipeline::all_gel(s.fills));
  const std::string page = report::study_html(three("en"), s);
  CHECK_THAT(page, Catch::Contains("gels after"));
  CHECK_THAT(page, Catch::Contains("2 of 3 alternatives are worth choosing"));
  CHECK(unsaid(report::study_html(three("marked"), s)) == std::vector<std::string>{});
  const Study again = report::read_study(report::study_json(three("en"), s));
  REQUIRE(again.fills.size() == 3);
  CHECK(again.fills[0].gels());
  CHECK(again.fills[0].gel_time == 6);
  for (StudiedFill& f : s.fills) f.gel_time = 6, f.gelled_area = 4000;
  CHECK(pipeline::all_gel(s.fills));
  CHECK(pipeline::not_beaten(s.fills) == std::vector<bool>{false, false, false});
  CHECK_THAT(report::study_html(three("en"), s), Catch::Contains("None of them is worth choosing"));
}
