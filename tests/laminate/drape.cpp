// A net over the sheet.
#include "gapfront/drape.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "../flow/sheets.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// A spherical cap, 1.2 radii to each side over the pole.
Sheet cap(double radius) {
  return cavity::make_sheet(grid(60, 60, [=](double u, double v) {
                              const double a = 1.2 * (2 * u - 1), b = 1.2 * (2 * v - 1);
                              // Longitude and latitude from the pole's two great circles.
                              const Vec3 p(std::sin(a) * std::cos(b), std::sin(b), std::cos(a) * std::cos(b));
                              return Vec3(radius * p);
                            }).mesh);
}

/// Of a net on a unit sphere with two geodesics that cross squarely: the angle φ between its threads at lengths u and v
/// obeys φ_uv = −sin φ (a Chebyshev net, 1878: φ_uv = −K sin φ), and since it is π/2 on both, it depends on z = uv alone:
/// z φ'' + φ' = −sin φ. By Runge–Kutta from the series at 0.
double net_angle(double z) {
  const int steps = 4000;
  double t = 1e-6, phi = M_PI / 2 - t, rate = -1;
  const double h = (z - t) / steps;
  const auto bend = [](double at, double f, double r) { return (-std::sin(f) - r) / at; };
  for (int k = 0; k < steps; ++k, t += h) {
    const double a1 = rate, b1 = bend(t, phi, rate);
    const double a2 = rate + h / 2 * b1, b2 = bend(t + h / 2, phi + h / 2 * a1, a2);
    const double a3 = rate + h / 2 * b2, b3 = bend(t + h / 2, phi + h / 2 * a2, a3);
    const double a4 = rate + h * b3, b4 = bend(t + h, phi + h * a3, a4);
    phi += h / 6 * (a1 + 2 * a2 + 2 * a3 + a4), rate += h / 6 * (b1 + 2 * b2 + 2 * b3 + b4);
  }
  return phi;
}

}  // namespace

TEST_CASE("Cloth lies on a cylinder and a cone without shear: they roll out flat") {
  const Sheet cylinder = cavity::make_sheet(grid(40, 40, [](double u, double v) {
                                              const double a = 2 * (u - 0.5);
                                              return Vec3(80 * std::sin(a), 160 * v, -80 * std::cos(a));
                                            }).mesh);
  const Sheet cone = cavity::make_sheet(grid(40, 40, [](double u, double v) {
                                          const double a = 1.5 * (u - 0.5), r = 60 + 100 * v;
                                          return Vec3(r * std::sin(a), -r * std::cos(a), -0.5 * r);
                                        }).mesh);
  for (const auto& [sheet, start] : {std::pair{&cylinder, Vec3(0, 80, -80)}, {&cone, Vec3(0, -110, -55)}}) {
    const Net net = laminate::drape(*sheet, {.start = start, .warp = Vec3(1, 0.6, 0.2), .cell = 5});
    CHECK(net.places.size() > 400);
    CHECK(net.covered > 0.9);
    CHECK(net.greatest_shear < 0.02);  // a facet of 4 mm turns by 0.05 rad
    CHECK(net.locked_area == 0);
  }
}

TEST_CASE("On a sphere the net shears as a Chebyshev net does") {
  const double radius = 100, cell = 4;
  const Sheet s = cap(radius);
  const Net net = laminate::drape(s, {.start = {0, 0, radius}, .warp = Vec3::UnitX(), .cell = cell});
  REQUIRE(net.covered > 0.8);
  // On the diagonal, by symmetry, u = v; the net's threads are counted along it.
  double worst = 0;
  int seen = 0;
  for (const DrapedPlace& p : net.places) {
    if (std::abs(p.at.x() - p.at.y()) > 0.2 || p.at.x() < 1 || p.shear == 0) continue;
    ++seen;
    // Which crossing it is: the k-th on the diagonal, in order of distance.
    int k = 0;
    for (const DrapedPlace& q : net.places)
      k += std::abs(q.at.x() - q.at.y()) <= 0.2 && q.at.x() >= 1 && q.shear != 0 && q.at.x() <= p.at.x() + 1e-9;
    const double u = (k - 0.5) * cell / radius;  // shear is that of the cell before the crossing
    worst = std::max(worst, std::abs(p.shear - (M_PI / 2 - net_angle(u * u))));
  }
  CHECK(seen > 10);
  CHECK(worst < 0.02);
  CHECK(net.greatest_shear > 0.5);
}

TEST_CASE("A sheared net lays 1/cos as much glass, and turns the plies") {
  const Sheet s = cap(100);
  LaminateOptions o;
  o.plies = {{laminate::find_reinforcement("woven roving 600")}};
  o.plies[0].count = 2;
  o.draped = laminate::drape(s, {.start = {0, 0, 100}, .warp = Vec3::UnitY(), .cell = 5}).places;
  const LaminateMap m = laminate::evaluate_laminate(s, std::vector<double>(s.size(), 3), o);
  std::size_t corner = 0, pole = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    if ((s.mesh.points[i] - Vec3(50, 50, 70.7)).norm() < (s.mesh.points[corner] - Vec3(50, 50, 70.7)).norm()) corner = i;
    if (s.mesh.points[i].z() > s.mesh.points[pole].z()) pole = i;
  }
  const double flat = laminate::evaluate_stack(o.plies, 3, o).vf;
  CHECK(m.nodes[pole].vf == Approx(flat).epsilon(0.01));
  double shear = 0, least = 1e300;
  for (const DrapedPlace& p : o.draped)
    if (const double d = (p.at - s.mesh.points[corner]).norm(); d < least) least = d, shear = p.shear;
  CHECK(m.nodes[corner].vf == Approx(flat / std::cos(shear)));
  CHECK(shear > 0.2);
}

TEST_CASE("A start off the sheet and a direction that stands on it are refused") {
  const Sheet s = cap(100);
  CHECK_THROWS_WITH(laminate::drape(s, {.start = {0, 0, 200}, .warp = Vec3::UnitX()}), Catch::Contains("stands more"));
  CHECK_THROWS_WITH(laminate::drape(s, {.start = {0, 0, 100}, .warp = Vec3::UnitZ()}), Catch::Contains("stands on"));
  CHECK(laminate::drape(s, {}).places.empty());
}
