// From two scans to a first verdict: look, new, inspect, and what is refused on the way.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "run_program.hpp"

using namespace gapfront;
using namespace gapfront::test;
using nlohmann::json;

namespace {

std::string scan_of(const std::string& name) { return std::string(SOURCE_DIR "/scans/") + name; }

/// The job with a line more behind the title of a table.
std::string after(std::string text, const std::string& title, const std::string& line) {
  const auto at = text.find(title);
  REQUIRE(at != std::string::npos);
  return text.insert(text.find('\n', at + 1) + 1, line + "\n");
}

/// Greatest distance of the corners of one closed line from another, in plan, mm.
double farthest(const std::vector<std::array<double, 2>>& line, const std::vector<std::array<double, 2>>& from) {
  double most = 0;
  for (const auto& p : line) {
    double minimum = 1e300;
    for (std::size_t k = 0; k < from.size(); ++k) {
      const auto &a = from[k], &b = from[(k + 1) % from.size()];
      const double dx = b[0] - a[0], dy = b[1] - a[1], l2 = dx * dx + dy * dy;
      const double t = l2 > 0 ? std::clamp(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / l2, 0.0, 1.0) : 0;
      minimum = std::min(minimum, std::hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy));
    }
    most = std::max(most, minimum);
  }
  return most;
}

}  // namespace

TEST_CASE("Look, new and inspect on each demo pair name the same balls, and the verdict says what is not confirmed",
          "[pairs]") {
  for (const std::string name : {"new-tool", "worn-tool-3", "dry-spot"}) {
    const Bench bench;
    const std::string lower = scan_of(name + "-lower.ply"), upper = scan_of(name + "-upper.ply");
    const auto looked = json::parse(bench.run({"look", lower, upper, "--json"}).out);
    const auto& pair = looked.back()["pair"];
    REQUIRE(pair["closed"] == true);
    REQUIRE(pair["balls"].size() == 7);
    CHECK(pair["seal"]["found"] == true);

    const auto made = bench.run({"new", lower, upper, "-o", "fresh.toml"});
    INFO(made.err);
    REQUIRE(made.code == 0);
    const std::string text = bench.read("fresh.toml");
    for (const auto& ball : pair["balls"]) {
      CHECK(ball["diameter_mm"] == 20.0);
      char place[100];
      const auto& p = ball["lower_mm"];
      std::snprintf(place, sizeof place, "name = \"%s\"\nball = \"20 mm\"\nlower = \"%.1f, %.1f, %.1f mm\"",
                    ball["name"].get<std::string>().c_str(), p[0].get<double>(), p[1].get<double>(),
                    p[2].get<double>());
      CHECK_THAT(text, Catch::Contains(place));
    }
    CHECK_THAT(text, Catch::Contains("[[align.flange]]") && Catch::Contains("\nseal = ["));

    // Of the inspection only the seal line and the guesses are looked at: a coarse sheet does, and no draws.
    bench.write("fresh.toml", after(after(text, "\n[cavity]", "edge = \"14 mm\""), "\n[flow]", "ensemble = 0"));
    const auto ran = bench.run({"inspect", "fresh.toml"});
    INFO(ran.out << ran.err);
    const auto result = json::parse(bench.read("reports/fresh/result.json"));
    CHECK(result["seal"]["source"] == "proposed");
    CHECK(result["verdict"]["provisional"] == true);
    CHECK_FALSE(result["job"]["unconfirmed"].empty());
    CHECK_THAT(bench.read("reports/fresh/report.html"),
               Catch::Contains("proposed seal line") && Catch::Contains("<code>cavity.nominal</code>"));
    // The dish's edge is at 180 × 130 mm with corners of 60 mm; the generator's seal lies 12 mm outside of it on the
    // flange, where nothing marks it. Two axes of the job's frame may point either way.
    std::vector<std::array<double, 2>> edge, line;
    for (int c = 0; c < 4; ++c)
      for (int k = 0; k <= 30; ++k) {
        const double f = (c + k / 30.0) * M_PI / 2, sx[] = {1, -1, -1, 1}, sy[] = {1, 1, -1, -1};
        edge.push_back({sx[c] * 120 + 60 * std::cos(f), sy[c] * 70 + 60 * std::sin(f)});
      }
    for (const auto& p : result["seal"]["line_mm"]) line.push_back({p[0].get<double>(), p[1].get<double>()});
    CHECK(farthest(line, edge) < 1.5);
    CHECK(farthest(edge, line) < 1.5);
  }
}

TEST_CASE("A job without a seal line takes the proposed one, and says so") {
  const Bench bench;
  std::ifstream in(scan_of("new-tool.toml"));
  std::string text{std::istreambuf_iterator<char>(in), {}};
  const auto from = text.find("seal = ["), to = text.find("]\n", from) + 2;
  text.erase(from, to - from);
  for (const char* half : {"lower", "upper"}) {
    const std::string file = "new-tool-" + std::string(half) + ".ply";
    text.replace(text.find(file), file.size(), scan_of(file));
  }
  bench.write("open.toml", after(text, "\n[flow]", "ensemble = 0"));
  const auto ran = bench.run({"inspect", "open.toml"});
  INFO(ran.err);
  const auto result = json::parse(bench.read("reports/open/result.json"));
  CHECK(result["seal"]["source"] == "proposed");
  CHECK(result["seal"]["found"] == "rim");
  CHECK(result["seal"]["share_with_land_beside"].get<double>() > 0.95);
  CHECK(result["verdict"]["provisional"] == false);
  CHECK_THAT(ran.out, Catch::Contains("Seal line   proposed along the rim of the dish"));
  CHECK_THAT(bench.read("reports/open/report.html"), Catch::Contains("One is proposed along the rim of the dish"));
}

TEST_CASE("Where no seal line is given and none is found, the headline says that the whole face was judged") {
  const Bench bench;
  bench.plates();
  const auto ran = bench.inspect(bench.job());
  INFO(ran.err);
  CHECK_THAT(ran.out, Catch::Contains("The whole lower face was judged, flange included"));
  const auto result = json::parse(bench.read("report/result.json"));
  CHECK(result["seal"]["source"] == "none");
  CHECK_THAT(result["verdict"]["headline"].dump(), Catch::Contains("flange included"));
}

TEST_CASE("Guesses stand under the verdict, and the verdict's word is provisional while its measure is one of them") {
  const Bench bench;
  bench.plates();
  const auto ran =
      bench.inspect(bench.job({{"[job]\n", "[job]\nunconfirmed = [\"cavity.tolerance\", \"flow.viscosity\"]\n"}}));
  INFO(ran.err);
  CHECK_THAT(ran.out, Catch::Contains("Provisionally conforming. ") &&
                          Catch::Contains("cavity.tolerance = 0.3 mm; flow.viscosity = 0.2 Pa.s"));
  const std::string page = bench.read("report/report.html");
  CHECK_THAT(page, Catch::Contains("provisionally conforming") && Catch::Contains("The verdict is provisional"));
  const auto again = bench.run({"report", "report", "--output", "again.html"});
  CHECK(again.code == 0);
  CHECK(bench.read("again.html") == page);
  const auto sure = bench.inspect(bench.job({{"[job]\n", "[job]\nunconfirmed = [\"flow.viscosity\"]\n"}}));
  CHECK_THAT(sure.out, Catch::StartsWith("Conforming. ") && Catch::Contains("flow.viscosity"));
  bench.refused(bench.job({{"[job]\n", "[job]\nunconfirmed = [\"flow.viscositty\"]\n"}}), 1,
                "\"flow.viscositty\" is no entry of this job; did you mean \"flow.viscosity\"?");
}

TEST_CASE("A mistyped command or option gets the nearest one, in one line") {
  const Bench bench;
  for (const auto& [words, line] : std::vector<std::pair<std::vector<std::string>, std::string>>{
           {{"inspct", "job.toml"}, "unknown command \"inspct\"; did you mean \"inspect\"?"},
           {{"glases"}, "unknown command \"glases\"; did you mean \"glasses\"?"},
           {{"inspect", "job.toml", "--outptu", "x"}, "unknown option --outptu; did you mean --output?"}}) {
    const auto r = bench.run(words);
    CHECK(r.code == 1);
    CHECK_THAT(r.err, Catch::Contains(line));
    CHECK(r.err.find('\n') == r.err.size() - 1);
  }
}

TEST_CASE("Pressures, dates, words and glass are refused with what to write instead") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"\"50 % of atmosphere\"", "\"0.5 bar\""}}), 1,
                "write \"0.5 bar below atmosphere\" or \"0.5 bar absolute\"");
  bench.refused(bench.job({{"[flow]\n", "[flow]\npressure_limit = \"6 psi\"\n"}}), 1,
                "write \"6 psi above atmosphere\" or \"6 psi absolute\"");
  bench.refused(bench.job({{"[job]\n", "[job]\ndate = \"2026-02-30\"\n"}}), 1,
                "\"2026-02-30\" is no day of the calendar");
  bench.refused(bench.job({{"method = \"given\"", "method = \"givn\""}}), 1, "did you mean \"given\"?");
  bench.refused(bench.job({{"glass = \"own\"", "glass = \"woven rowing 600\""}, {"loft = \"1.2 mm\"\n", ""}}), 1,
                "did you mean \"woven roving 600\"?");
}

TEST_CASE("Both halves in the wrong unit are refused, with the likely one named") {
  const Bench bench;
  bench.plates(1 / 25.4, 1 / 25.4);
  bench.refused(bench.job(), 1, "the numbers are likely inches: set unit = \"in\" in [lower] and [upper]");
  // Larger, so that size alone does not tell: the seal line does.
  bench.plates(10 / 25.4, 10 / 25.4);
  bench.refused(bench.job({{"[cavity]\n",
                            "[cavity]\nseal = [\"-400, -300 mm\", \"400, -300 mm\", \"400, 300 mm\", \"-400, "
                            "300 mm\"]\n"}}),
                1, "the numbers are likely inches");
}

TEST_CASE("Titles with a unit are read, and refused where they contradict the job") {
  const Bench bench;
  bench.plates();
  bench.write("lower.xyz", "X [mm] Y [mm] Z [mm]\n" + bench.read("lower.xyz"));
  CHECK(bench.inspect(bench.job()).code == 0);
  bench.write("lower.xyz", "X [in] Y [in] Z [in]\n" + bench.read("upper.xyz"));
  CHECK_THAT(bench.run({"inspect", "job.toml"}).err, Catch::Contains("the titles of its columns say in"));
}

TEST_CASE("Glasses lists each number with its uncertainty and source, and as JSON") {
  const Bench bench;
  const auto r = bench.run({"glasses"});
  CHECK(r.code == 0);
  CHECK_THAT(r.out, Catch::Contains("woven roving 600") && Catch::Contains("within a factor of 3") &&
                        Catch::Contains("source: from memory"));
  const auto j = json::parse(bench.run({"glasses", "--json"}).out);
  CHECK(j.size() == 6);
  for (const auto& g : j) {
    CHECK(g["numbers"].size() == 6);
    CHECK(g["loft_mm"].get<double>() > 0);
  }
}
