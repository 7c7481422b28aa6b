// The real program on bad input: exit code 1 or 2, one line that says what to do, nothing written.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "run_program.hpp"

using namespace gapfront::test;

TEST_CASE("A sound pair of plates is inspected and reported") {
  const Bench bench;
  bench.plates();
  const auto r = bench.inspect(bench.job());
  INFO(r.err);
  CHECK(r.code == 0);
  CHECK_THAT(r.out, Catch::Contains("Conforming. ") && Catch::Contains("report.html"));
  CHECK(bench.has("report/report.html"));
  CHECK(bench.has("report/result.json"));
}

TEST_CASE("Points that are not finite are dropped and counted, not fatal") {
  const Bench bench;
  bench.plates();
  bench.write("lower.xyz", bench.read("lower.xyz") + "nan nan nan\n0 inf 0\n");
  const auto r = bench.run({"inspect", bench.job(), "--json"});
  INFO(r.err);
  CHECK(r.code == 0);
  CHECK(nlohmann::json::parse(r.out).dump().find("\"nonfinite\":2") != std::string::npos);
}

TEST_CASE("A file of points that are all not finite is refused") {
  const Bench bench;
  bench.plates();
  bench.write("lower.xyz", "nan nan nan\nnan 0 0\ninf 1 2\nnan 1 1\n");
  bench.refused(bench.job(), 1, "lower.xyz");
}

TEST_CASE("A missing scan is refused") {
  const Bench bench;
  bench.plates();
  bench.remove("upper.xyz");
  bench.refused(bench.job(), 1, "upper.xyz");
}

TEST_CASE("A missing job file is refused") {
  const Bench bench;
  bench.refused("nowhere.toml", 1, "nowhere.toml");
}

TEST_CASE("An empty scan is refused") {
  const Bench bench;
  bench.plates();
  bench.write("lower.xyz", "");
  bench.refused(bench.job(), 1, "lower.xyz");
}

TEST_CASE("A scan whose first bytes are not those of its format is refused") {
  const Bench bench;
  bench.plates();
  bench.write("lower.ply", "PK\x03\x04 this is no scan");
  bench.refused(bench.job({{"lower.xyz", "lower.ply"}}), 1, "lower.ply");
}

TEST_CASE("A truncated binary scan is refused") {
  const Bench bench;
  bench.plates();
  bench.write("lower.ply",
              "ply\nformat binary_little_endian 1.0\nelement vertex 1000\nproperty float x\nproperty float y\n"
              "property float z\nend_header\n" +
                  std::string(500, '\0'));
  bench.refused(bench.job({{"lower.xyz", "lower.ply"}}), 1, "lower.ply");
}

TEST_CASE("A broken line of text is named by its number") {
  const Bench bench;
  bench.plates();
  bench.write("lower.xyz", "0 0 0\n1 0 0\n2 0 oops\n" + bench.read("lower.xyz"));
  bench.refused(bench.job(), 1, ":3");
}

TEST_CASE("A unit left out of the job file is refused with its line") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"nominal = \"2 mm\"", "nominal = \"2\""}}), 1, "[cavity] nominal");
}

TEST_CASE("One half in inches, undeclared, is refused") {
  const Bench bench;
  bench.plates(1, 1 / 25.4);
  bench.refused(bench.job({{"unit = \"mm\"\n", ""}, {"unit = \"mm\"\n", ""}}), 1, "unit");
}

TEST_CASE("The same file given twice is refused") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"upper.xyz", "lower.xyz"}}), 1, "same");
}

TEST_CASE("Swapped halves are refused with the remedy") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"lower.xyz", "x.xyz"}, {"upper.xyz", "lower.xyz"}, {"x.xyz", "upper.xyz"}}), 2, "swapped");
}

TEST_CASE("Halves that do not overlap are refused") {
  const Bench bench;
  bench.plates(1, 1, 500);
  bench.refused(bench.job(), 2, "");
}

TEST_CASE("Points that all lie on one line are refused") {
  const Bench bench;
  bench.plates();
  std::string line;
  for (int i = 0; i < 500; ++i) line += std::to_string(i * 0.2) + " 0 0\n";
  bench.write("lower.xyz", line);
  const auto r = bench.inspect(bench.job());
  CHECK((r.code == 1 || r.code == 2));
  bench.one_line_and_nothing_written(r);
}

TEST_CASE("A job without a vent is refused") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"[[flow.vent]]\nname = \"middle\"\nat = \"0, 0, 0 mm\"\n", ""}}), 1, "no vent");
}

TEST_CASE("A vent outside the sheet is refused by name") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"at = \"0, 0, 0 mm\"", "at = \"300, 0, 0 mm\""}}), 1, "\"middle\"");
}

TEST_CASE("A corner of the seal line far beside the scan is named, in a second") {
  const Bench bench;
  bench.plates();
  const std::string wrong =
      "nominal = \"2 mm\"\nseal = [\"-40, -30 mm\", \"400, -30 mm\", \"400, 30 mm\", \"-40, 30 mm\"]";
  bench.refused(bench.job({{"nominal = \"2 mm\"", wrong}}), 1, "[cavity] seal: its corner x 400, y −30 mm lies 350 mm");
}

TEST_CASE("A scan of a few points is refused with their number") {
  const Bench bench;
  bench.plates();
  bench.write("lower.xyz", "0 0 0\n50 0 0\n0 50 0\n50 50 0\n25 25 1\n");
  bench.refused(bench.job(), 1, "lower.xyz: only 5 points");
}

TEST_CASE("A negative thickness is refused") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"nominal = \"2 mm\"", "nominal = \"-2 mm\""}}), 1, "greater than zero");
}
