#include "core/rigid_motion.hpp"

#include <Eigen/QR>
#include <Eigen/SVD>
#include <catch2/catch.hpp>

#include "align/cylinder.hpp"
#include "align/free_motion.hpp"
#include "align/plane.hpp"
#include "gapfront/error.hpp"
#include "support.hpp"

using namespace gapfront;
using namespace support;

TEST_CASE("The rigid fit gives back a known motion") {
  // Exact pairs: the answer is the motion that made them (references.md eq. 16).
  const Rigid truth = pose(500, -20, 7, 2.5, Vec3(1, 2, -1));
  const std::vector<Vec3> from{{0, 0, 0}, {300, 0, 10}, {0, 200, -5}, {250, 220, 40}};
  std::vector<Vec3> to;
  for (const Vec3& p : from) to.push_back(truth * p);
  CHECK((fit_rigid(from, to).matrix() - truth.matrix()).norm() < 1e-10);
  CHECK((fit_rigid(from, to, {1, 5, 2, 0.1}).matrix() - truth.matrix()).norm() < 1e-10);
}

TEST_CASE("Mirrored points are fitted by a rotation, never by a mirror image") {
  // Umeyama 1991: with B the mirror image of A the plain SVD answer has determinant −1. Here H = Σ b aᵀ =
  // diag(−2, 8, 18); the trace of R·Hᵀ over rotations is greatest, 24, for R = identity (the weakest direction is
  // flipped back), so the fitted motion is none at all.
  const std::vector<Vec3> a{{1, 0, 0}, {-1, 0, 0}, {0, 2, 0}, {0, -2, 0}, {0, 0, 3}, {0, 0, -3}};
  std::vector<Vec3> b;
  for (const Vec3& p : a) b.push_back(Vec3(-p.x(), p.y(), p.z()));
  const Rigid m = fit_rigid(a, b);
  CHECK((m.matrix() - Rigid::Identity().matrix()).norm() < 1e-12);
}

TEST_CASE("Points on one plane are fitted without a flip") {
  const Rigid truth = pose(5, 6, 7, 3.0, Vec3(0, 1, 1));
  const std::vector<Vec3> from{{0, 0, 0}, {300, 0, 0}, {0, 200, 0}};
  std::vector<Vec3> to;
  for (const Vec3& p : from) to.push_back(truth * p);
  CHECK((fit_rigid(from, to).matrix() - truth.matrix()).norm() < 1e-10);
}

TEST_CASE("Pairs known well in one direction only pull in that direction only") {
  // Four corner pairs agree; a fifth at the centre is off by (1, 1, 1) mm, known to 1 um along Z and 1 m across.
  // Along Z, weighted mean of corners (σ² = 2e-2/4 = 0.005 mm²) and the fifth: moved to 1 within 0.02 %; X, Y: still.
  const Eigen::Matrix3d round = 0.01 * Eigen::Matrix3d::Identity();
  std::vector<Pair> pairs;
  for (int i = 0; i < 4; ++i) {
    const Vec3 p(i & 1 ? 100 : -100, i & 2 ? 100 : -100, 0);
    pairs.push_back({p, p, round, round});
  }
  pairs.push_back(
      {Vec3::Zero(), Vec3(1, 1, 1), 5e-7 * Vec3(2e12, 2e12, 1).asDiagonal(), 5e-7 * Vec3(1, 1, 1).asDiagonal()});
  const PairFit fit = fit_pairs(pairs);
  const Vec3 moved = fit.motion.translation();
  CHECK(moved.z() == Approx(1).epsilon(2.1e-4));
  CHECK(std::abs(moved.x()) < 1e-6);
  CHECK(std::abs(moved.y()) < 1e-6);
}

TEST_CASE("A covariance carried to another pivot gives the same uncertainty everywhere") {
  Random random(2);
  Matrix6 a;
  for (int i = 0; i < 36; ++i) a.data()[i] = random.gauss();
  const Matrix6 covariance = a * a.transpose();
  Alignment here, there;
  here.pivot = Vec3(10, 20, 30), here.covariance = covariance;
  there.pivot = Vec3(-50, 0, 5), there.covariance = move_pivot(covariance, here.pivot, there.pivot);
  for (int i = 0; i < 10; ++i) {
    const Vec3 p = 100 * random.vector(), d = random.vector();
    CHECK(here.u_at(p, d) == Approx(there.u_at(p, d)));
  }
}

TEST_CASE("A small motion and its six numbers are each other's inverse") {
  Vector6 tr;
  tr << 0.1, -0.2, 0.3, 0.01, 0.02, -0.03;
  const Vec3 pivot(100, 200, 300);
  CHECK((motion_about(small_motion(tr, pivot), pivot) - tr).norm() < 1e-12);
}

TEST_CASE("A plane through reference points is found to 1e-9") {
  // Null-space method (references.md item 20): offsets orthogonal to 1, u and v keep the least-squares plane.
  const Rigid truth = pose(300, -200, 100, 0.7, Vec3(1, 1, 0.2));
  Random random(4);
  const int n = 50;
  Eigen::MatrixXd a(n, 3);
  Eigen::VectorXd e(n);
  for (int i = 0; i < n; ++i) {
    a.row(i) << 1, 200 * random.uniform(), 100 * random.uniform();
    e(i) = 0.02 * (random.uniform() - 0.5);
  }
  const Eigen::MatrixXd q = a.householderQr().householderQ() * Eigen::MatrixXd::Identity(n, 3);
  for (int k = 0; k < 3; ++k) e -= q * (q.transpose() * e);
  std::vector<Vec3> points;
  for (int i = 0; i < n; ++i) points.push_back(truth * Vec3(a(i, 1), a(i, 2), e(i)));
  const auto fit = align::fit_plane(points);
  REQUIRE(fit);
  const Vec3 normal = truth.linear().col(2);
  CHECK(fit->normal.cross(normal).norm() * 200 < 1e-9);
  CHECK(std::abs(normal.dot(fit->point - truth.translation())) < 1e-9);
}

TEST_CASE("A cylinder through reference points is found to 1e-9 mm") {
  // Null-space method (references.md item 20): radial offsets orthogonal to the distance's derivatives by all five
  // unknowns (two shifts, two tilts, radius) keep the least-squares cylinder.
  const Rigid truth = pose(300, -200, 100, 0.7, Vec3(1, 1, 0.2));
  Random random(8);
  const int n = 60;
  const double radius = 12;
  Eigen::MatrixXd a(n, 5);
  Eigen::VectorXd e(n), z(n), turn(n);
  for (int i = 0; i < n; ++i) {
    turn(i) = 4 * random.uniform(), z(i) = 30 * random.uniform() - 15, e(i) = 0.02 * (random.uniform() - 0.5);
    const double c = std::cos(turn(i)), s = std::sin(turn(i));
    a.row(i) << c, s, z(i) * c, z(i) * s, 1;
  }
  const Eigen::MatrixXd q = a.householderQr().householderQ() * Eigen::MatrixXd::Identity(n, 5);
  for (int k = 0; k < 3; ++k) e -= q * (q.transpose() * e);
  std::vector<Vec3> points;
  for (int i = 0; i < n; ++i)
    points.push_back(truth * Vec3((radius + e(i)) * std::cos(turn(i)), (radius + e(i)) * std::sin(turn(i)), z(i)));
  align::CylinderFit start;
  start.point = truth * Vec3(0.5, -0.4, 0), start.axis = truth.linear() * Vec3(0.02, 0.01, 1), start.radius = 11.5;
  const auto fit = align::fit_cylinder(points, start, true);
  REQUIRE(fit);
  CHECK(fit->axis.cross(truth.linear().col(2)).norm() * 15 < 1e-9);
  CHECK((fit->point - truth.translation()).cross(truth.linear().col(2)).norm() < 1e-9);
  CHECK(std::abs(fit->radius - radius) < 1e-9);
  start.radius = radius;
  CHECK(std::abs(align::fit_cylinder(points, start, false)->radius - radius) == 0);
  CHECK_FALSE(align::fit_cylinder({points[0], points[1], points[2]}, start, false));
}

TEST_CASE("Free motions are named in words") {
  const Vec3 pivot(10, 20, 0);
  Matrix6 flat = Matrix6::Zero();  // a horizontal flat fixes the slide along Z and the turns about X and Y
  flat.diagonal() << 0, 0, 1e4, 1e9, 1e9, 0;
  const std::string words = align::free_motion_of(flat, pivot, 300, 0.5);
  CHECK(words.find("slide along X") != std::string::npos);
  CHECK(words.find("slide along Y") != std::string::npos);
  CHECK(words.find("turn about Z through (10, 20, 0) mm") != std::string::npos);
  CHECK(words.find("along Z") == std::string::npos);
  Matrix6 firm = 1e4 * Matrix6::Identity();
  firm.diagonal().tail<3>() *= 1e5;
  CHECK(align::free_motion_of(firm, pivot, 300, 0.5).empty());
}
