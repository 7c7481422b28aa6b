// Voids by the front's speed.
#include <catch2/catch.hpp>
#include <cmath>

#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

// At a constant rate Q the front in a strip of width w runs at v = Q/(φ h w) (references, 5): Ca* = µ v/(γ cos θ).
TEST_CASE("The capillary number of a front at constant rate is that of its speed") {
  const Sheet s = strip(40, 8, 200, 40, 0.2);
  auto o = options({{0, 0, 0}, {0, 40, 0}}, {{200, 0, 0}, {200, 40, 0}});
  o.schedule = {{0, 500}}, o.pressure_limit = 1e9;
  o.surface_tension = 35e-6, o.contact_angle = M_PI / 6;
  const Filling f = flow::fill(s, uniform(s), o);
  const double v = 500 / (0.83 * 3 * 40);                                 // mm/s
  const double expected = 0.2 * v * 1e-3 / (35e-3 * std::cos(M_PI / 6));  // in m, N and s
  const auto ca = flow::capillary_numbers(s, f, o);
  int seen = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (s.mesh.points[i].x() < 20 || s.mesh.points[i].x() > 180) continue;
    CHECK(ca[i] == Approx(expected).epsilon(0.05));
    ++seen;
  }
  CHECK(seen > 200);
  // Twice as thick when it comes: twice the number.
  o.ageing.rise = {{0, 2}, {1e6, 2}};
  const auto aged = flow::capillary_numbers(s, f, o);
  CHECK(aged[seen] == Approx(2 * ca[seen]));
  o.surface_tension = 0;
  CHECK(flow::capillary_numbers(s, f, o).empty());
}
