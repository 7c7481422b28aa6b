// What the registration claims about itself, against many draws.
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <catch2/catch.hpp>

#include "align/plane.hpp"
#include "core/rigid_motion.hpp"
#include "support.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// Six targets over one metre.
const std::vector<Vec3> kBallPlaces{{-500, -300, 0}, {500, -300, 20}, {500, 300, 0},
                                    {-500, 300, 10}, {0, -320, 60},   {20, 310, -40}};

AlignOptions drawn(double sigma, const Rigid& upper, Random& random) {
  AlignOptions o;
  for (std::size_t i = 0; i < kBallPlaces.size(); ++i) {
    o.targets.push_back(point_target("B" + std::to_string(i + 1), kBallPlaces[i] + sigma * random.vector(),
                                     upper * kBallPlaces[i] + sigma * random.vector()));
    o.targets.back().u = sigma;
  }
  return o;
}

/// Eq. 17 of references.md (Fitzpatrick, West & Maurer 1998): mean square error at r for a mean square target error.
double predicted_square(const Vec3& r, double fle_square) {
  Vec3 centre = Vec3::Zero();
  for (const Vec3& p : kBallPlaces) centre += p / kBallPlaces.size();
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Vec3& p : kBallPlaces) scatter += (p - centre) * (p - centre).transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes(scatter);
  double sum = 0;
  for (int k = 0; k < 3; ++k) {
    const Vec3 axis = axes.eigenvectors().col(k);
    const double d2 = (r - centre).cross(axis).squaredNorm();
    const double f2 = (scatter.trace() - axes.eigenvalues()(k)) / kBallPlaces.size();
    sum += d2 / f2 / 3;
  }
  return fle_square / kBallPlaces.size() * (1 + sum);
}

}  // namespace

TEST_CASE("Over 1000 draws the error at any point is the Fitzpatrick-West-Maurer prediction within 10 %") {
  const double sigma = 0.01, fle_square = 3 * 2 * sigma * sigma;  // both halves contribute
  const Rigid upper = pose(-900, 350, 20, 2.7, Vec3(1, 0.2, 0.1));
  const std::vector<Vec3> at{{0, 0, 0}, {500, 300, 0}, {-250, 100, -150}, {0, 0, 400}, {900, 0, 0}};
  std::vector<double> square(at.size(), 0);
  double residual_square = 0;
  Random random(17);
  const int draws = 1000;
  for (int k = 0; k < draws; ++k) {
    const Alignment a = align::register_halves({}, {}, drawn(sigma, upper, random), {.lower = 0, .upper = 0});
    for (std::size_t i = 0; i < at.size(); ++i)
      square[i] += (a.upper_to_tool.motion * (upper * at[i]) - at[i]).squaredNorm() / draws;
    residual_square += a.fit_rms * a.fit_rms / draws;
  }
  for (std::size_t i = 0; i < at.size(); ++i)
    CHECK(std::sqrt(square[i]) == Approx(std::sqrt(predicted_square(at[i], fle_square))).epsilon(0.1));
  // The residuals' own law, second part of eq. 17: ⟨FRE²⟩ = (1 − 2/N)⟨FLE²⟩.
  CHECK(std::sqrt(residual_square) == Approx(std::sqrt((1 - 2.0 / 6) * fle_square)).epsilon(0.05));
}

TEST_CASE("The stated uncertainty at a point is the Fitzpatrick-West-Maurer value when all targets are alike") {
  // Same model, so they agree to the size of the errors over the lever arms, 1e-4.
  Random random(18);
  const Alignment a =
      align::register_halves({}, {}, drawn(0.01, pose(1, 2, 3, 1, Vec3(1, 1, 1)), random), {.lower = 0, .upper = 0});
  for (const Vec3& p : {Vec3(0, 0, 0), Vec3(500, 300, 0), Vec3(0, 0, 400)}) {
    double square = 0;
    for (int k = 0; k < 3; ++k) square += std::pow(a.u_at(p, Vec3::Unit(k)), 2);
    CHECK(std::sqrt(square) == Approx(std::sqrt(predicted_square(p, 6e-4))).epsilon(1e-3));
  }
}

TEST_CASE("The covariance of a fit with unequal, anisotropic targets is that of 1000 draws") {
  // NEES: the mean of 1000 chi-square values with 6 degrees of freedom lies within 6 ± 2.576·sqrt(12/1000) = 6 ± 0.282
  // in 99 % of such tests (the seed is fixed).
  Random random(19);
  std::vector<Eigen::Matrix3d> root;
  for (std::size_t i = 0; i < 2 * kBallPlaces.size(); ++i)
    root.push_back(pose(0, 0, 0, random.uniform() * 3, random.vector()).linear() *
                   Vec3(0.002 + 0.02 * random.uniform(), 0.01, 0.05 * random.uniform() + 0.005).asDiagonal());
  const Rigid upper = pose(-900, 350, 20, 2.7, Vec3(1, 0.2, 0.1));
  double mean = 0;
  for (int draw = 0; draw < 1000; ++draw) {
    std::vector<Pair> pairs;
    for (std::size_t i = 0; i < kBallPlaces.size(); ++i) {
      const Eigen::Matrix3d &a = root[2 * i], &b = root[2 * i + 1];
      pairs.push_back({upper * kBallPlaces[i] + a * random.vector(), kBallPlaces[i] + b * random.vector(),
                       a * a.transpose(), b * b.transpose()});
    }
    const PairFit fit = fit_pairs(pairs);
    const Vector6 e = motion_about(fit.motion * upper, fit.pivot);
    mean += e.dot(fit.information * e) / 1000;
  }
  CHECK(mean > 6 - 0.282);
  CHECK(mean < 6 + 0.282);
}

TEST_CASE("A cavity-wide bulge of 0.3 mm survives registration by targets, and a fit on the faces would hide it") {
  // Flat cavity of radius 200 mm at z = 3 in the upper half, all of it 0.3 mm high but for a faded rim.
  const Rigid upper = pose(-900, 350, 20, 2.7, Vec3(1, 0.2, 0.1));
  Random random(20);
  std::vector<Vec3> scanned;
  for (double x = -200; x <= 200; x += 5)
    for (double y = -200; y <= 200; y += 5)
      if (const double r = std::hypot(x, y) / 200; r <= 1) {
        const double bulge = 0.3 * (r < 0.9 ? 1 : (1 - r) / 0.1);
        scanned.push_back(upper * Vec3(x, y, 3 + bulge + 0.01 * random.gauss()));
      }
  const Alignment a = align::register_halves({}, {}, drawn(0.005, upper, random), {.lower = 0, .upper = 0});
  double middle = 0;
  int n = 0;
  std::vector<Vec3> face;
  for (const Vec3& p : scanned) {
    face.push_back(a.upper_to_tool.motion * p);
    if (face.back().head<2>().norm() < 100) middle += face.back().z() - 3, ++n;
  }
  CHECK(middle / n == Approx(0.3).margin(0.01));
  // The best fit of the face to its nominal plane z = 3 takes the face's own plane there; what is left in the middle:
  const auto own = align::fit_plane(face);
  REQUIRE(own);
  double left = 0;
  for (const Vec3& p : face)
    if (p.head<2>().norm() < 100) left += own->normal.dot(p - own->point) / n;
  CHECK(std::abs(left) < 0.1);
}
