// A race-track: two lanes side by side that exchange resin, against a fine 2-D solution made with SciPy at test time.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>

#include "../flow/sheets.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("The front in two lanes that exchange resin agrees with a fine 2-D solution") {
  // 500 mm long; lane 1 is 20 mm wide with four times the permeability of lane 2, which is 40 mm wide.
  const double lane = 20, k1 = 4e-3, k2 = 1e-3, phi1 = 0.9, phi2 = 0.83;
  const Sheet s = strip(125, 30, 500, 60);
  auto lam = uniform(s, state(k2, 3, phi2));
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double y = s.mesh.points[i].y();
    if (y < lane + 1e-9) lam.nodes[i] = state(k1, 3, phi1);
    if (std::abs(y - lane) < 1e-9) {  // on the border, half of each
      lam.nodes[i] = state(0.5 * (k1 + k2), 3, 0.5 * (phi1 + phi2));
    }
  }
  const Filling f = flow::fill(s, lam, options({{0, 0, 0}, {0, 60, 0}}, {{500, 0, 0}, {500, 60, 0}}));

  FILE* script =
      popen("/usr/bin/python3 " SOURCE_DIR "/tests/external/two_lanes.py 500 60 20 3 4e-3 0.9 1e-3 0.83 0.2 1e5", "r");
  REQUIRE(script);
  int row = 0, places = 0;
  double x = 0, y = 0, arrival = 0, sum = 0;
  while (std::fscanf(script, "%d %lf %lf %lf", &row, &x, &y, &arrival) == 4) {
    // Straight between the four nodes about the place.
    const double u = x / 4, v = y / 2;
    const int i = int(u), j = int(v), at = j * 126 + i;
    const double a = f.arrival[at] + (u - i) * (f.arrival[at + 1] - f.arrival[at]);
    const double b = f.arrival[at + 126] + (u - i) * (f.arrival[at + 127] - f.arrival[at + 126]);
    const double own = a + (v - j) * (b - a);
    INFO("lane " << row << ", " << x << " mm, " << y << " mm: " << own << " s, SciPy " << arrival << " s");
    // Both place the border between the lanes to about half a cell of 2 mm, a twentieth of the fast lane's width.
    CHECK(std::abs(own - arrival) < 0.02 * f.fill_time);
    sum += std::pow((own - arrival) / f.fill_time, 2), ++places;
  }
  CHECK(pclose(script) == 0);
  REQUIRE(places == 16);
  WARN("two lanes: arrivals differ by " << 100 * std::sqrt(sum / places) << " % of the fill time, rms");
}
