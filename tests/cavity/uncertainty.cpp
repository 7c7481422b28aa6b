// The claim on U: the interval gap ± U contains the truth in 93–98 % of cases, as a whole and per part alone.
#include <Eigen/Cholesky>
#include <catch2/catch.hpp>
#include "gap_cases.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {

/// Share of independent noisy patches whose interval contains the truth (3 mm).
double coverage(const Face& lower, const Face& upper, int draws, double declared) {
  GapOptions options;
  options.u_instrument = 0;
  int inside = 0;
  for (int k = 0; k < draws; ++k) {
    const Surface lo(sampled_face(lower, -8, 8, -8, 8, 1, 0.02, unsigned(1000 + 2 * k)),
                     {.spacing = 1, .noise = declared});
    const Surface up(sampled_face(upper, -9, 9, -9, 9, 1, 0.02, unsigned(1001 + 2 * k)),
                     {.spacing = 1, .noise = declared});
    const Point p = lower(0.2, -0.1);
    const NodeGap g = cavity::measure_gap_at(lo, up, p.place, p.normal, options);
    REQUIRE(g.measured);
    inside += std::abs(g.gap - 3) <= g.U;
  }
  return double(inside) / draws;
}

}  // namespace

TEST_CASE("The fit's part of U alone covers 93 to 98 % of noisy patches") {
  // 600 draws: the share itself has a standard deviation of 0.85 %.
  const double planes = coverage(plane(O, X, Y), plane(3 * Z, X, Y), 600, 0.02);
  CHECK(planes >= 0.93);
  CHECK(planes <= 0.98);
  const double cylinders = coverage(cylinder(O, 20), cylinder(O, 23), 600, 0.02);
  CHECK(cylinders >= 0.93);
  CHECK(cylinders <= 0.98);
}

TEST_CASE("Noise that is declared too small is found from the residuals") {
  const double fraction = coverage(plane(O, X, Y), plane(3 * Z, X, Y), 600, 0.005);
  CHECK(fraction >= 0.93);
  CHECK(fraction <= 0.98);
}

TEST_CASE("The registration's part of U alone covers 93 to 98 % of drawn motions") {
  // Motions x' = x + t + ω × (x − pivot) drawn from the covariance, applied to a noise-free upper half.
  Alignment alignment;
  alignment.pivot = Vec3(-30, 20, 5);
  Matrix6 root = Matrix6::Zero();
  root.diagonal() << 0.01, 0.01, 0.015, 3e-4, 4e-4, 1e-4;
  root(3, 2) = 1e-4;  // heave and roll go together
  alignment.covariance = root * root.transpose();
  GapOptions options;
  options.u_instrument = 0;
  const double a = 0.15;  // the upper face leans, so that in-plane motion counts too
  const Face upper = plane(3 * Z, Vec3(std::cos(a), 0, std::sin(a)), Y);
  const Surface lo(sampled_face(plane(O, X, Y), -10, 10, -10, 10, 1, 0, 1), {.spacing = 1, .noise = 0});
  const auto points = sampled_face(upper, -10, 10, -10, 10, 1, 0, 2);
  const double truth = 6 * std::cos(a) / (1 + std::cos(a));  // see "In a wedge …"
  Sheet sheet;
  sheet.mesh.points = {O};
  sheet.normals = {Z};
  sheet.area = {1};
  support::FineRandom random(77);
  int inside = 0;
  const int draws = 600;
  for (int k = 0; k < draws; ++k) {
    Vector6 z;
    for (int i = 0; i < 6; ++i) z(i) = random.gauss();
    const Vector6 m = root * z;
    auto moved = points;
    for (Vec3& p : moved) p += m.head<3>() + Vec3(m.tail<3>()).cross(p - alignment.pivot);
    const NodeGap g =
        cavity::measure_gap(sheet, lo, Surface(moved, {.spacing = 1, .noise = 0}), alignment, options).nodes[0];
    REQUIRE(g.measured);
    inside += std::abs(g.gap - truth) <= g.U;
  }
  CHECK(double(inside) / draws >= 0.93);
  CHECK(double(inside) / draws <= 0.98);
}

TEST_CASE("The parts of the budget add in squares to U = 2u") {
  const Surface lo(sampled_face(plane(O, X, Y), -10, 10, -10, 10, 1, 0.02, 1), {.spacing = 1, .noise = 0.02});
  const Surface up(sampled_face(plane(3 * Z, X, Y), -10, 10, -10, 10, 1, 0.02, 2), {.spacing = 1, .noise = 0.02});
  GapOptions options;
  options.u_instrument = 0.01;
  options.u_temperature = 0.004;
  const NodeGap g = cavity::measure_gap_at(lo, up, O, Z, options);
  REQUIRE(g.measured);
  // Two scans of 10 µm each, independent: 14.1 µm.
  CHECK(g.u_instrument == Approx(0.01 * std::sqrt(2.0)).epsilon(1e-3));
  CHECK(g.u_temperature == 0.004);
  CHECK(g.u_registration == 0);
  CHECK(g.U == Approx(2 * std::sqrt(g.u_lower * g.u_lower + g.u_upper * g.u_upper + 2e-4 + 1.6e-5)).epsilon(1e-3));
  // 4.8 σ²/N with N = π·5.5² = 95 points (weights 1 − ρ², derived at the constant): 4.5 µm a face.
  CHECK(g.u_lower == Approx(0.0045).epsilon(0.2));
}
