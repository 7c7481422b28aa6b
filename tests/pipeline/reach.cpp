// Readings that say nothing of most of the face.
#include <catch2/catch.hpp>
#include <cmath>

#include "../cli/run_program.hpp"
#include "../flow/sheets.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "pipeline/reach.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// A flat face of 400 mm by 300 mm with readings at these places.
Measured read_at(const std::vector<Vec3>& places) {
  Measured m;
  m.sheet = test::grid(20, 15, [](double u, double v) { return Vec3(400 * u - 200, 300 * v - 150, 0); });
  for (const Vec3& p : places) {
    m.job.spots.push_back({"", p, 3, 0.03});
    m.spots.push_back({"", 3, 0.03, 3, 0.03, 0, true});
  }
  return m;
}

pipeline::ReadingsReach reach_at(const std::vector<Vec3>& places) {
  return pipeline::reach_of_readings(read_at(places));
}

}  // namespace

TEST_CASE("Readings all over a face leave nothing beyond their reach, those in a corner or in the middle most of it") {
  CHECK(reach_at({{-180, -130, 0}, {180, -130, 0}, {180, 130, 0}, {-180, 130, 0}}).ample());
  CHECK(reach_at({{-120, -90, 0}, {120, -90, 0}, {120, 90, 0}, {-120, 90, 0}, {0, 0, 0}}).ample());
  CHECK(reach_at({{-150, -110, 0}, {150, -110, 0}, {0, 120, 0}}).ample());
  const auto corner = reach_at({{182, 126, 0}, {178, 128, 0}, {170, 132, 0}, {186, 118, 0}, {188, 110, 0}});
  CHECK(!corner.ample());
  CHECK(corner.share > 0.8);
  CHECK(corner.across == Approx(std::hypot(18, 22)).margin(1));
  CHECK(corner.farthest > 400);
  CHECK(!reach_at({{-20, -10, 0}, {20, 12, 0}, {10, -12, 0}, {-60, 30, 0}}).ample());
  // Along one side: nothing of the other.
  CHECK(!reach_at({{-180, -130, 0}, {-60, -130, 0}, {60, -130, 0}, {180, -130, 0}}).ample());
}

TEST_CASE("What readings in the middle put into a map widens U at the rim, and not beside them") {
  const Measured m = read_at({{-20, -10, 0}, {20, 12, 0}, {10, -12, 0}, {-60, 30, 0}});
  const auto reach = pipeline::reach_of_readings(m);
  GapMap map;
  map.nodes.resize(m.sheet.size());
  for (NodeGap& g : map.nodes) g.measured = true, g.gap = 3, g.U = 0.04, g.u_instrument = 0.01;
  pipeline::count_beyond_reach(map, reach, std::vector<double>(m.sheet.size(), 0.42));
  REQUIRE(map.shapes.cols() == 1);
  double middle = 1, rim = 0;
  for (std::size_t i = 0; i < m.sheet.size(); ++i) {
    const Vec3& p = m.sheet.mesh.points[i];
    if (p.norm() < 30) middle = std::min(middle, map.nodes[i].U);
    if (std::abs(p.x()) > 190) rim = std::max(rim, map.nodes[i].U);
    CHECK(map.common_instrument(i) == Approx(0.01));
  }
  CHECK(middle == 0.04);
  CHECK(rim > 0.42);
}

TEST_CASE("Readings in one corner are said to test only that, and to take their shift out is not advised") {
  const Bench bench;
  bench.plates();
  const auto with_readings = [&](double x0, double step, double thickness, const char* use = "compare") {
    std::string list = "x;y;z;thickness;U\n";
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 2; ++j) {
        const double x = x0 + step * i, y = (x0 < 0 ? -30 : 20) + step * j * (x0 < 0 ? 1.5 : 1);
        char line[96];
        std::snprintf(line, sizeof line, "%g;%g;%.3f;%g;0.03\n", x, y, 500 - std::sqrt(500 * 500 - x * x), thickness);
        list += line;
      }
    bench.write("thickness.csv", list);
    return pipeline::measure(job::read_job(
        bench.path(bench.job({{"[laminate]", "[cavity.readings]\nfile = \"thickness.csv\"\nunit = \"mm\"\nuse = \"" +
                                                 std::string(use) + "\"\n[laminate]"}}))));
  };
  const auto near = with_readings(30, 5, 2.0);
  CHECK_THAT(say(near.warnings), Catch::Contains("test only what is near them"));
  const auto all_over = with_readings(-40, 40, 2.0);
  CHECK_THAT(say(all_over.warnings), !Catch::Contains("test only what is near them"));
  const auto shifted = with_readings(30, 5, 1.8);
  REQUIRE(shifted.doubt);
  CHECK_THAT(say(shifted.doubt->text), !Catch::Contains("remove_spot_shift"));
  CHECK_THAT(say(shifted.warnings), !Catch::Contains("remove_spot_shift"));
  const auto moved = with_readings(-40, 40, 1.8);
  CHECK_THAT(say(moved.warnings), Catch::Contains("remove_spot_shift"));
  // A map that readings in a corner carried over is within its limits there, and not known to be elsewhere.
  const auto part = with_readings(30, 5, 2.0, "update"), whole = with_readings(-40, 40, 2.0, "update");
  CHECK(part.verdict.overall == Conformity::undecided);
  CHECK(part.verdict.fraction[static_cast<int>(Conformity::conforming)] > 0.02);
  const double in_reach = 1 - pipeline::reach_of_readings(part).share;
  CHECK(in_reach < 0.75);
  CHECK(part.verdict.fraction[static_cast<int>(Conformity::conforming)] <= in_reach);
  CHECK_THAT(say(part.verdict.headline), Catch::Contains("beyond their reach"));
  CHECK(whole.verdict.overall == Conformity::conforming);
}
