// Hose, weight and ageing against a 2-D solution made with SciPy at test time.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <string>

#include "../flow/sheets.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("A panel on edge, behind a hose, with resin that thickens, fills as SciPy says") {
  // 300 by 200 mm, fed over its left edge at 0.3 bar, which stands oblique; a fluid of 6 g/cm³, so that its weight is a
  // third of that over the panel; a hose; resin that has doubled in 600 s.
  const Sheet s = strip(60, 40, 300, 200);
  auto o = options({{0, 0, 0}, {0, 200, 0}}, {{300, 0, 0}, {300, 200, 0}});
  o.pressure_limit = 3e4;
  o.supply.gauge_at_pump = true, o.supply.hose_bore = 6, o.supply.hose_length = 800;
  o.gravity.density = 6e-3, o.gravity.down = Vec3(-1, -2, 0);
  o.ageing.rise = {{0, 1}, {600, 2}};
  char command[400];
  std::snprintf(command, sizeof command,
                "/usr/bin/python3 " SOURCE_DIR
                "/tests/external/panel.py 300 200 200 3 1e-3 0.83 0.2 3e4 %.12g %.12g %.12g 600",
                o.supply.resistance(), o.gravity.pull().x(), o.gravity.pull().y());
  const Filling f = flow::fill(s, uniform(s), o), plain = [&] {
    auto bare = o;
    bare.supply = {}, bare.gravity = {}, bare.ageing = {};
    return flow::fill(s, uniform(s), bare);
  }();
  FILE* script = popen(command, "r");
  REQUIRE(script);
  double x = 0, y = 0, arrival = 0, sum = 0, moved = 0;
  int places = 0;
  while (std::fscanf(script, "%lf %lf %lf", &x, &y, &arrival) == 3) {
    const double u = x / 5, v = y / 5;
    const int i = int(u), j = int(v), at = j * 61 + i;
    const auto own = [&](const Filling& g) {
      const double a = g.arrival[at] + (u - i) * (g.arrival[at + 1] - g.arrival[at]);
      const double b = g.arrival[at + 61] + (u - i) * (g.arrival[at + 62] - g.arrival[at + 61]);
      return a + (v - j) * (b - a);
    };
    INFO(x << " mm, " << y << " mm: " << own(f) << " s, SciPy " << arrival << " s");
    CHECK(std::abs(own(f) - arrival) < 0.01 * f.fill_time);
    sum += std::pow((own(f) - arrival) / f.fill_time, 2), ++places;
    moved = std::max(moved, std::abs(own(f) - own(plain)) / f.fill_time);
  }
  CHECK(pclose(script) == 0);
  REQUIRE(places == 24);
  CHECK(moved > 0.2);  // what is agreed on is no small thing
  WARN("panel on edge: arrivals differ by " << 100 * std::sqrt(sum / places) << " % of the fill time, rms; by up to "
                                            << 100 * moved << " % from those of the plain filling");
}
