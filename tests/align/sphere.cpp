#include <catch2/catch.hpp>

#include <Eigen/SVD>

#include "support.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// Points with known least-squares sphere (null-space method of ISO 10360-6 reference pairs, references.md item 20):
/// residuals that are normal to the Jacobian's columns leave the least-squares answer where it was.
std::vector<Vec3> reference_sphere(const Vec3& centre, double radius, bool free_radius, double size) {
  const int n = 60;
  std::vector<Vec3> directions;
  Random random(11);
  for (int i = 0; i < n; ++i) directions.push_back(random.vector().normalized());
  Eigen::MatrixXd jacobian(n, free_radius ? 4 : 3);
  Eigen::VectorXd e(n);
  for (int i = 0; i < n; ++i) {
    jacobian.row(i).head<3>() = directions[i].transpose();
    if (free_radius) jacobian(i, 3) = 1;
    e(i) = 2 * random.uniform() - 1;
  }
  const Eigen::MatrixXd q = jacobian.householderQr().householderQ() * Eigen::MatrixXd::Identity(n, jacobian.cols());
  for (int k = 0; k < 3; ++k) e -= q * (q.transpose() * e);
  e *= size;
  std::vector<Vec3> points;
  for (int i = 0; i < n; ++i) points.push_back(centre + (radius + e(i)) * directions[i]);
  return points;
}

}  // namespace

TEST_CASE("A sphere of known radius through reference points is found to 1e-9 mm") {
  const Vec3 centre(123.4, -56.7, 8.9);
  const auto fit = align::fit_sphere(reference_sphere(centre, 10, false, 0.01), centre + Vec3(6, -5, 3),
                                     {.radius = 10, .noise = 0.008});
  REQUIRE(fit.used == 60);
  CHECK((fit.centre - centre).norm() < 1e-9);
}

TEST_CASE("A sphere of free radius through reference points is found to 1e-9 mm") {
  const Vec3 centre(-3.4, 56.7, 208.9);
  const auto fit = align::fit_sphere(reference_sphere(centre, 12.7, true, 0.01), centre + Vec3(6, -5, 3),
                                     {.radius = 0, .noise = 0.008});
  REQUIRE(fit.used == 60);
  CHECK((fit.centre - centre).norm() < 1e-9);
  CHECK(fit.radius == Approx(12.7).margin(1e-9));
}

TEST_CASE("A ball on a flange is found from a place half a diameter off, past the flange, clutter and outliers") {
  // The ball's own contribution: sigma/sqrt(n/3) is about 1 um for n = 900, so 5 um leaves the flange no say.
  Random random(5);
  for (int trial = 0; trial < 12; ++trial) {
    const Vec3 centre(200, -100, 7);
    std::vector<Vec3> points;
    add_ball(points, centre, 10, -0.6, 900, 0.02, random);
    add_flat(points, Vec3(200, -100, -3), 60, 1, 8, 0.02, random);  // the ball touches it at its lowest point
    for (int i = 0; i < 150; ++i) points.push_back(centre + 12 * random.vector());  // outliers, some inside the ball
    for (int i = 0; i < 200; ++i)                                                   // a clamp's edge beside it
      points.push_back(centre +
                       Vec3(14 + 0.02 * random.gauss(), 40 * random.uniform() - 20, 15 * random.uniform() - 10));
    const Vec3 off = 10 * random.vector().normalized();
    const auto fit = align::fit_sphere(points, centre + off, {.radius = 10, .noise = 0.02});
    REQUIRE(fit.used > 600);
    CHECK((fit.centre - centre).norm() < 0.005);
    CHECK(fit.rms == Approx(0.02).epsilon(0.15));
  }
}

TEST_CASE("A hemisphere standing out of the flange is found, however dense the scan") {
  Random random(6);
  for (double spacing : {1.0, 0.25}) {
    const Vec3 centre(0, 0, 1.5);
    std::vector<Vec3> points;
    add_ball(points, centre, 10, -0.1, static_cast<int>(620 / spacing / spacing), 0.02, random);
    add_flat(points, Vec3(0, 0, 0), 30, spacing, 10.5, 0.02, random);
    const auto fit = align::fit_sphere(points, Vec3(5, -5, 5), {.radius = 10, .noise = 0.02});
    REQUIRE(fit.used > 300);
    CHECK((fit.centre - centre).norm() < 0.005);
  }
}

TEST_CASE("The stated covariance of a ball's centre is that of many draws") {
  // NEES of 200 draws in 3 dimensions: chi-square with 600 degrees of freedom, 99 % band 514…693 (Wilson–Hilferty).
  Random random(8);
  double nees = 0, across = 0;
  for (int draw = 0; draw < 200; ++draw) {
    std::vector<Vec3> points;
    add_ball(points, Vec3(1, 2, 3), 10, 0.3, 150, 0.02, random);
    const auto fit = align::fit_sphere(points, Vec3(2, 2, 2), {.radius = 10, .noise = 0.02});
    const Vec3 e = fit.centre - Vec3(1, 2, 3);
    nees += e.dot(fit.covariance.inverse() * e);
    across += fit.covariance(0, 0) / fit.covariance(2, 2) / 200;
  }
  CHECK(nees > 514);
  CHECK(nees < 693);
  // Directions with z even over 0.3…1: mean z² = (1 − 0.027)/2.1 = 0.463, x² = 0.268; variances go as their inverse.
  CHECK(across == Approx(0.463 / 0.268).epsilon(0.03));
}

TEST_CASE("A bare flat, an edge and a ball of another size are not taken for the ball") {
  Random random(9);
  for (double spacing : {1.0, 0.2}) {
    std::vector<Vec3> flat;
    add_flat(flat, Vec3::Zero(), 30, spacing, 0, 0.02, random);
    CHECK(align::fit_sphere(flat, Vec3(0, 0, 8), {.radius = 10, .noise = 0.02}).used == 0);
    std::vector<Vec3> fillet;  // a quarter cylinder of the ball's own radius along Y
    for (double y = -30; y < 30; y += spacing)
      for (double a = 0; a < M_PI / 2; a += spacing / 10) fillet.push_back(10 * Vec3(std::cos(a), y / 10, std::sin(a)));
    CHECK(align::fit_sphere(fillet, Vec3(0, 0, 3), {.radius = 10, .noise = 0.02}).used == 0);
    std::vector<Vec3> other;
    add_ball(other, Vec3::Zero(), 7, -0.5, static_cast<int>(400 / spacing / spacing), 0.02, random);
    CHECK(align::fit_sphere(other, Vec3::Zero(), {.radius = 10, .noise = 0.02}).used == 0);
  }
}
