// The commands and their options, through the real program.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "run_program.hpp"

using namespace gapfront::test;

TEST_CASE("Bad usage is exit code 1 and one line") {
  for (const std::vector<std::string>& a : std::vector<std::vector<std::string>>{
           {}, {"inspect"}, {"measure"}, {"inspect", "a.toml", "--fail-on", "never"}, {"look"}, {"--jsn"}}) {
    const auto r = Bench().run(a);
    CHECK(r.code == 1);
    CHECK(r.out.empty());
    CHECK(r.err.starts_with("gapfront: "));
    CHECK(r.err.find('\n') == r.err.size() - 1);
  }
}

TEST_CASE("Look says size and spacing, and prints JSON for scripts") {
  const Bench bench;
  bench.plates();
  const auto plain = bench.run({"look", "lower.xyz", "--unit", "mm"});
  CHECK(plain.code == 0);
  CHECK_THAT(plain.out, Catch::Contains("8181 kept of 8181") && Catch::Contains("spacing"));
  const auto j = nlohmann::json::parse(bench.run({"look", "lower.xyz", "upper.xyz", "--json"}).out);
  REQUIRE(j.size() == 2);
  // The points stand 1 mm apart; the median nearest distance is the lesser of arc chord and Y step.
  CHECK(j[0]["spacing_mm"].get<double>() == Approx(1).epsilon(0.02));
}

TEST_CASE("A job written by new then runs, and new does not overwrite it") {
  const Bench bench;
  bench.plates();
  const auto made = bench.run({"new", "lower.xyz", "upper.xyz", "-o", "fresh.toml"});
  INFO(made.err);
  REQUIRE(made.code == 0);
  const auto ran = bench.run({"inspect", "fresh.toml"});
  INFO(ran.err);
  CHECK(ran.code == 0);
  CHECK(bench.has("reports/fresh/report.html"));
  CHECK(bench.has("fresh.setup.html"));
  const auto edit = bench.run({"new", "--edit", "fresh.toml"});
  CHECK(edit.code == 0);
  CHECK_THAT(edit.out, Catch::Contains("fresh.setup.html"));
  CHECK_THAT(bench.run({"new", "--edit", "fresh.toml", "-o", "other.toml"}).err,
             Catch::Contains("takes the job file alone"));
  CHECK_THAT(bench.run({"inspect", "fresh.toml", "--check"}).out, Catch::Contains("nothing wrong") &&
                                                                      Catch::Contains("entries are guesses: ") &&
                                                                      Catch::Contains("flow.viscosity"));
  const std::string before = bench.read("fresh.toml");
  const auto again = bench.run({"new", "lower.xyz", "upper.xyz", "-o", "fresh.toml"});
  CHECK(again.code == 1);
  CHECK_THAT(again.err, Catch::Contains("--force"));
  CHECK(bench.read("fresh.toml") == before);
  CHECK(bench.run({"new", "lower.xyz", "upper.xyz", "-o", "fresh.toml", "--force"}).code == 0);
}

TEST_CASE("Fail-on turns a verdict into exit code 3, after the report is written") {
  const Bench bench;
  bench.plates();
  // The plates stand 2 mm apart: provably outside 3 ± 0.3 mm.
  bench.job({{"nominal = \"2 mm\"", "nominal = \"3 mm\""}});
  CHECK(bench.run({"inspect", "job.toml", "--quiet", "--fail-on", "nonconforming"}).code == 3);
  CHECK(bench.has("report/report.html"));
  CHECK(bench.run({"inspect", "job.toml", "--quiet"}).code == 0);
}

TEST_CASE("In a pipe nothing is printed but the summary, and quiet prints nothing") {
  const Bench bench;
  bench.plates();
  const auto plain = bench.run({"inspect", bench.job()});
  CHECK(plain.err.empty());
  const auto quiet = bench.run({"inspect", "job.toml", "--quiet", "--output", "elsewhere"});
  CHECK(quiet.out.empty());
  CHECK(quiet.err.empty());
  CHECK(bench.has("elsewhere/result.json"));
}

TEST_CASE("Report makes the page of inspect again, byte for byte, from result.json alone") {
  const Bench bench;
  bench.plates();
  REQUIRE(bench.run({"inspect", bench.job(), "--quiet"}).code == 0);
  const std::string page = bench.read("report/report.html");
  for (const char* name : {"report/report.html", "job.toml", "lower.xyz", "upper.xyz"}) bench.remove(name);
  CHECK(bench.run({"report", "report"}).code == 0);
  CHECK(bench.read("report/report.html") == page);
  CHECK(bench.run({"report", "report/result.json", "--output", "other.html"}).code == 0);
  CHECK(bench.read("other.html") == page);
}

TEST_CASE("Report does not write the page over the result that it reads, whatever that is called") {
  const Bench bench;
  bench.plates();
  REQUIRE(bench.run({"inspect", bench.job(), "--quiet"}).code == 0);
  const std::string result = bench.read("report/result.json");
  bench.write("kept.html", result);
  const auto plain = bench.run({"report", "kept.html"});
  CHECK(plain.code == 1);
  CHECK_THAT(plain.err, Catch::Contains("kept.html") && Catch::Contains("--output"));
  CHECK(bench.run({"report", "report", "--output", "report/result.json"}).code == 1);
  CHECK(bench.read("kept.html") == result);
  CHECK(bench.read("report/result.json") == result);
}

TEST_CASE("Report refuses a folder without a result, and a result cut short or of an older format, in one line") {
  const Bench bench;
  const auto none = bench.run({"report", "."});
  CHECK(none.code == 1);
  CHECK_THAT(none.err, Catch::StartsWith("gapfront: ") && Catch::Contains("gapfront inspect"));
  bench.write("result.json", "{\"format\": \"gapfront res");
  const auto broken = bench.run({"report", "."});
  CHECK(broken.code == 1);
  CHECK_THAT(broken.err, Catch::Contains("result.json") && Catch::Contains("make it again"));
  bench.write("result.json", "{\"format\": \"gapfront result\", \"format_version\": 1}");
  const auto old = bench.run({"report", "."});
  CHECK(old.code == 1);
  CHECK_THAT(old.err, Catch::Contains("result.json: its format version is 1") && Catch::Contains("inspect"));
  CHECK_FALSE(bench.has("report.html"));
}

TEST_CASE("Fields names every column of result.json") {
  const Bench bench;
  bench.plates();
  REQUIRE(bench.run({"inspect", bench.job(), "--quiet"}).code == 0);
  const auto listed = bench.run({"fields"});
  CHECK(listed.code == 0);
  const auto j = nlohmann::json::parse(bench.read("report/result.json"));
  for (const auto& [id, values] : j["sheet"]["fields"].items()) CHECK_THAT(listed.out, Catch::Contains(id));
}

TEST_CASE("Shot holds a log against the model, writes page and JSON, and keeps it when it is told to") {
  const Bench bench;
  bench.plates();
  std::string log = "time [s],pressure [bar],volume [mL]\n";
  for (int k = 0; k <= 40; ++k) {
    char row[80];
    std::snprintf(row, sizeof row, "%d,0.9,%.3f\n", k, 13 * (1 - std::exp(-k / 12.0)));
    log += row;
  }
  bench.write("monday.csv", log);
  const std::string job = bench.job({{"[job]", "[job]\ntool = \"P-1\"\ndate = \"2026-05-20\""}});
  const auto r = bench.run({"shot", job, "monday.csv", "--vent", "38s", "--viscosity", "0.21Pa.s", "--record"});
  INFO(r.err);
  CHECK(r.code == 0);
  CHECK(r.err.empty());
  CHECK_THAT(r.out, Catch::StartsWith("This shot was") || Catch::StartsWith("The log does not tell"));
  CHECK_THAT(r.out, Catch::Contains("Shot        13 cm³ in 40 s") && Catch::Contains("Vent        middle: 38 s"));
  CHECK_THAT(r.out, !Catch::Contains("Resistance"));  // no single cause explains it, and what is fitted less still
  CHECK(bench.has("report/shot.html"));
  CHECK(bench.has("P-1.history"));
  CHECK(bench.run({"shot", job, "monday.csv", "--vent", "38s", "--viscosity", "0.21Pa.s", "--json"}).out ==
        bench.read("report/shot.json"));
  const auto wrong = bench.run({"shot", job, "monday.csv", "--vent", "left=38s"});
  CHECK(wrong.code == 1);
  CHECK_THAT(wrong.err, Catch::Contains("no vent \"left\"") && Catch::Contains("vents: \"middle\""));
  const auto early = bench.run({"shot", job, "monday.csv", "--vent=-5s"});
  CHECK(early.code == 1);
  CHECK_THAT(early.err, Catch::Contains("--vent -5s: resin cannot come at or before the start"));
}
