// Readings of the thickness in place of an upper scan, and over one.
#include <catch2/catch.hpp>
#include <cmath>

#include "../cli/run_program.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// Readings of the bench's plates on a grid of 4 × 3, all of them `thickness` but the first.
std::string thickness_list(double thickness, double first) {
  std::string out = "x;y;z;thickness;U\n";
  for (int i = 0; i < 4; ++i)
    for (int j = 0; j < 3; ++j) {
      const double x = -42 + 28 * i, y = -30 + 30 * j;
      char line[96];
      std::snprintf(line, sizeof line, "%g;%g;%.3f;%g;0.05\n", x, y, 500 - std::sqrt(500 * 500 - x * x),
                    i + j == 0 ? first : thickness);
      out += line;
    }
  return out;
}

Measured by_readings(const Bench& bench, const std::string& list) {
  bench.write("thickness.csv", list);
  return pipeline::measure(
      job::read_job(bench.path(bench.job({{"file = \"upper.xyz\"", "file = \"thickness.csv\""},
                                          {"[laminate]", "[cavity.readings]\nuse = \"alone\"\n[laminate]"}}))));
}

double share_of(const Measured& m, Conformity c) { return m.verdict.fraction[static_cast<int>(c)]; }

}  // namespace

TEST_CASE("Readings alone make a gap map, say so, and never prove the whole conforming") {
  const Bench bench;
  bench.plates();
  const Measured within = by_readings(bench, thickness_list(2.02, 1.98));
  for (const NodeGap& g : within.gap.nodes) CHECK(std::abs(g.gap - 2.01) < 0.06);
  CHECK(within.verdict.overall == Conformity::undecided);
  // Proven beside the readings, 12 discs of 25 mm at most, and nowhere else.
  CHECK(share_of(within, Conformity::conforming) > 0.05);
  CHECK(share_of(within, Conformity::conforming) < 12 * 491.0 / 8000);
  CHECK_THAT(say(within.verdict.headline),
             Catch::StartsWith("Undecided. The readings and what they say between them are within the limits; readings "
                               "do not prove that of the "
                               "whole face. By 12 readings alone; no upper half was scanned."));
  CHECK_THAT(say(within.warnings), Catch::Contains("no upper half was scanned: the gap is that of 12 readings"));
  CHECK(within.upper_format == "readings of the thickness, no scan");
  CHECK(within.upper_sha256 == scan::sha256_file(bench.path("thickness.csv")));
  const Measured out = by_readings(bench, thickness_list(2.02, 2.6));
  CHECK(out.verdict.overall == Conformity::nonconforming);
  CHECK_THAT(say(out.verdict.headline), Catch::Contains("By 12 readings alone"));
}

TEST_CASE(
    "With readings alone no upper scan is needed to edit the job, and no area is called within that is not proven") {
  const Bench bench;
  bench.plates();
  by_readings(bench, thickness_list(2.02, 1.98));
  bench.remove("upper.xyz");
  const auto edited = bench.run({"new", "--edit", "job.toml"});
  INFO(edited.err);
  CHECK(edited.code == 0);
  CHECK_THAT(edited.out, Catch::Contains("by readings of the thickness alone: no upper half was scanned"));
  CHECK_THAT(bench.read("job.setup.html"), Catch::Contains("\"by_readings\":true"));
  const auto ran = bench.inspect("job.toml");
  INFO(ran.err);
  CHECK_THAT(ran.out, Catch::StartsWith("Undecided. "));
  CHECK_THAT(bench.read("report/report.html"), Catch::Contains("not all of the area is proven"));
  // The words of a tool that conforms stand nowhere: not on the terminal, in the page, in the work order.
  for (const char* said : {"whole measured area is within", "whole measured area is then within"}) {
    CHECK_THAT(ran.out, !Catch::Contains(said));
    for (const char* file : {"report/report.html", "report/work-order.html", "report/result.json"})
      CHECK_THAT(bench.read(file), !Catch::Contains(said));
  }
}

TEST_CASE("A scanned map is carried over to readings of parts, their shrinkage given back") {
  const Bench bench;
  bench.plates();
  // 5 % of a gap of 2.1 mm: parts of 1.995 mm.
  bench.write("parts.csv", thickness_list(1.995, 1.995));
  const auto job = [&](const std::string& use) {
    return job::read_job(
        bench.path(bench.job({{"[laminate]", "[cavity.readings]\nfile = \"parts.csv\"\nunit = \"mm\"\n" + use +
                                                 "shrinkage = \"5 %\"\n[laminate]"}})));
  };
  const Measured scanned = pipeline::measure(job("")), carried = pipeline::measure(job("use = \"update\"\n"));
  for (std::size_t i = 0; i < scanned.sheet.size(); i += 10) {
    CHECK(std::abs(scanned.gap.nodes[i].gap - 2) < 0.03);
    CHECK(std::abs(carried.gap.nodes[i].gap - 2.1) < 0.05);
  }
  CHECK(scanned.spots.size() == 12);
  REQUIRE(scanned.extra_inputs.size() == 1);
  CHECK(scanned.extra_inputs[0].file == "parts.csv");
  CHECK_THAT(say(carried.warnings), Catch::Contains("was carried over to 12 readings"));
}

TEST_CASE("What a list of readings lacks is said with its line") {
  const Bench bench;
  bench.plates();
  const auto fault = [&](const std::string& list, const std::string& more = "") -> std::string {
    bench.write("t.csv", list);
    try {
      job::read_job(bench.path(
          bench.job({{"[laminate]", "[cavity.readings]\nfile = \"t.csv\"\nunit = \"mm\"\n" + more + "[laminate]"}})));
    } catch (const Error& e) {
      return e.what();
    }
    return "";
  };
  CHECK_THAT(fault("x,y,z,thick\n"), Catch::Contains("t.csv:1: the column \"thick\" is not known"));
  CHECK_THAT(fault("x,y,thickness\n"), Catch::Contains("needs the columns x, y, z (or place) and thickness"));
  CHECK_THAT(fault("x,y,z,thickness,U\n1,2,3,abc,0.1\n"), Catch::Contains("t.csv:2: thickness is \"abc\", no number"));
  CHECK_THAT(fault("x,y,z,thickness,U\n1,2,3,0,0.1\n"), Catch::Contains("must be greater than zero"));
  CHECK_THAT(fault("x,y,z,thickness\n1,2,3,2\n"), Catch::Contains("U: is missing for t.csv:2"));
  CHECK_THAT(fault("place;thickness;U\nA1;2,1;0,1\n"), Catch::Contains("\"A1\" of t.csv:2 is not given"));
  CHECK_THAT(fault("# none\n"), Catch::Contains("holds no reading"));
  CHECK(fault("place;thickness;U\nA1;2,1;0,1  # by hand\n",
              "[[cavity.readings.place]]\nname = \"A1\"\nat = \"10, 10, 0 mm\"\n")
            .empty());
}
