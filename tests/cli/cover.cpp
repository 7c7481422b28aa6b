// What a scan does not cover, as the program's user meets it: exit code, terminal, result.json, report.
#include <functional>
#include <nlohmann/json.hpp>
#include <sstream>
#include "run_program.hpp"

using gapfront::test::Bench;

namespace {

using Gone = std::function<bool(double x, double y)>;

/// Takes out of a scan the points over such places.
void cut(const Bench& bench, const std::string& file, const Gone& gone) {
  std::istringstream in(bench.read(file));
  std::string kept, line;
  while (std::getline(in, line)) {
    double x = 0, y = 0;
    std::istringstream(line) >> x >> y;
    if (!gone(x, y)) kept += line + "\n";
  }
  bench.write(file, kept);
}

std::string sealed(const Bench& bench) {
  return bench.job(
      {{"[laminate]\n", "seal = [\"-44, -34 mm\", \"44, -34 mm\", \"44, 34 mm\", \"-44, 34 mm\"]\n[laminate]\n"}});
}

nlohmann::json result_of(const Bench& bench) { return nlohmann::json::parse(bench.read("report/result.json")); }

const Gone hole = [](double x, double y) { return std::hypot(x - 10, y - 5) < 14; };
const Gone strip = [](double x, double) { return std::abs(x - 20) < 6; };
const Gone third = [](double x, double) { return std::abs(x) < 44.0 / 3; };

}  // namespace

TEST_CASE("Plates that both scans cover conform, and nothing is said to be unseen") {
  const Bench bench;
  bench.plates();
  const auto r = bench.run({"inspect", sealed(bench), "--fail-on", "undecided"});
  INFO(r.out << r.err);
  CHECK(r.code == 0);
  CHECK_THAT(r.out, Catch::Contains("Conforming") && !Catch::Contains("Not seen"));
  CHECK(result_of(bench)["verdict"]["not_measured"].empty());
}

TEST_CASE("A hole, a strip across and the middle third missing in either scan are no conformity") {
  const struct {
    const char* name;
    Gone gone;
    double area;  ///< in plan, which is that of the face to a thousandth
  } cases[] = {{"hole", hole, 3.14159 * 14 * 14}, {"strip", strip, 12 * 68.0}, {"third", third, 88.0 / 3 * 68}};
  const struct {
    const char* missing;
    bool lower, upper;
    const char* words;
  } halves[] = {{"lower", true, false, "the lower scan has a hole there"},
                {"upper", false, true, "the upper scan has a hole there"},
                {"both", true, true, "both scans have a hole there"}};
  for (const auto& c : cases)
    for (const auto& h : halves) {
      const Bench bench;
      bench.plates();
      if (h.lower) cut(bench, "lower.xyz", c.gone);
      if (h.upper) cut(bench, "upper.xyz", c.gone);
      const auto r = bench.run({"inspect", sealed(bench), "--fail-on", "undecided"});
      INFO(c.name << " in " << h.missing << ": " << r.out << r.err);
      CHECK(r.code == 3);
      CHECK_THAT(r.out, Catch::Contains("Undecided") && Catch::Contains("Not seen") && Catch::Contains(h.words));
      const auto found = result_of(bench);
      const auto& places = found["verdict"]["not_measured"];
      REQUIRE(places.size() == 1);
      CHECK(places[0]["missing"] == h.missing);
      // The spacing is 1 mm, and a scan ends half of it before a cut on either side.
      CHECK(places[0]["area_mm2"].get<double>() == Approx(c.area).epsilon(0.12));
      CHECK(found["verdict"]["share_of_area"]["not_measured"].get<double>() ==
            Approx(c.area / (88 * 68)).epsilon(0.12));
      CHECK_THAT(bench.read("report/report.html"),
                 Catch::Contains("Places that are not measured, largest first") && Catch::Contains(h.words));
    }
}

TEST_CASE("A speck below the least area does not decide, and is said") {
  const Bench bench;
  bench.plates();
  cut(bench, "lower.xyz", [](double x, double y) { return std::hypot(x - 10, y - 5) < 5; });
  // A hole of 0.8 cm² takes a node of the sheet with it, wherever the nodes stand, a hundredth of plates so
  // small.
  const auto job = bench.job({{"[laminate]\n",
                               "unmeasured_share = \"3 %\"\nseal = [\"-44, -34 mm\", \"44, -34 mm\", \"44, 34 mm\", "
                               "\"-44, 34 mm\"]\n[laminate]\n"}});
  const auto r = bench.run({"inspect", job, "--fail-on", "undecided"});
  INFO(r.out << r.err);
  CHECK(r.code == 0);
  CHECK_THAT(r.out, Catch::Contains("in places too small to decide") && Catch::Contains("Not seen"));
}

TEST_CASE("A least area of nothing lets no speck pass") {
  const Bench bench;
  bench.plates();
  cut(bench, "lower.xyz", [](double x, double y) { return std::hypot(x - 10, y - 5) < 5; });
  const auto job = bench.job({{"[laminate]\n",
                               "least_area = \"0 mm2\"\nseal = [\"-44, -34 mm\", \"44, -34 mm\", \"44, 34 mm\", \"-44, "
                               "34 mm\"]\n[laminate]\n"}});
  CHECK(bench.run({"inspect", job, "--fail-on", "undecided"}).code == 3);
}

TEST_CASE("Scans that leave out most of the cavity are refused, and said to be the reason") {
  const Bench bench;
  bench.plates();
  cut(bench, "upper.xyz", [](double x, double) { return x > -15; });
  const auto r = bench.run({"inspect", sealed(bench)});
  CHECK(r.code == 2);
  CHECK_THAT(r.err, Catch::Contains("the scans cover only"));
}
