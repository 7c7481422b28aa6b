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
  double sum = 0, squares = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (s.mesh.points[i].x() < 20 || s.mesh.points[i].x() > 180) continue;
    sum += ca[i] / expected, squares += std::pow(ca[i] / expected - 1, 2), ++seen;
  }
  CHECK(seen > 200);
  // Single nodes scatter with the triangles around them, on a mesh as ragged as this.
  WARN("capillary number: mean off by " << 100 * (sum / seen - 1) << " %, nodes by " << 100 * std::sqrt(squares / seen)
                                        << " % RMS");
  CHECK(sum / seen == Approx(1).epsilon(0.01));
  CHECK(std::sqrt(squares / seen) < 0.05);
  // Twice as thick when it comes: twice the number.
  o.ageing.rise = {{0, 2}, {1e6, 2}};
  const auto aged = flow::capillary_numbers(s, f, o);
  CHECK(aged[100] == Approx(2 * ca[100]));
  o.surface_tension = 0;
  CHECK(flow::capillary_numbers(s, f, o).empty());
}

// The gas of a pocket is shut in by resin: what the vacuum at the vent does after that is felt through the resin only.
// So the gas keeps its mass (Boyle: p V stays), and since resin that still leaves by the vent lowers the pressure
// around it, no more of it is pressed together than with the vent closed.
TEST_CASE("Vacuum left on after the fill removes nothing that resin has closed in") {
  // A lane along both long edges: the two fronts meet at the vent before the middle has come.
  const Sheet s = strip(40, 20, 400, 200);
  LaminateMap lam = uniform(s);
  for (std::size_t i = 0; i < s.size(); ++i)
    if (std::abs(s.mesh.points[i].y() - 100) > 75) lam.nodes[i] = state(2e-2, 3.5, 0.95);
  auto o = options({{0, 0, 0}, {0, 200, 0}}, {{400, 0, 0}});
  o.cavity_pressure = 0.5 * atmosphere_pa;
  const Filling closed = flow::fill(s, lam, o);
  o.vents[0].bleed = 1e5;  // the vacuum stays on; a day
  const Filling left_on = flow::fill(s, lam, o);
  REQUIRE(closed.pockets.size() == 1);
  REQUIRE(left_on.pockets.size() == 1);
  for (const Filling* f : {&closed, &left_on}) {
    const Pocket& p = f->pockets[0];
    CHECK(p.final_pressure * p.final_volume == Approx(0.5 * atmosphere_pa * p.initial_volume).epsilon(1e-6));
  }
  CHECK(left_on.pockets[0].initial_volume == Approx(closed.pockets[0].initial_volume).epsilon(1e-3));
  CHECK(flow::dry_area(left_on) >= flow::dry_area(closed) * (1 - 1e-3));
  WARN("dry with the vent closed " << flow::dry_area(closed) << " mm2, with vacuum left on "
                                   << flow::dry_area(left_on));
}
