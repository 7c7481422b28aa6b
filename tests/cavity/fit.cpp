#include <catch2/catch.hpp>
#include "gap_cases.hpp"

using namespace gapfront;
using namespace gap_cases;

TEST_CASE("A local fit on a cylinder lies on it, with its normal and both curvatures") {
  // Circle of radius 20 about the axis: the foot of (3, 0, 25) is 20·(3, 0, 25)/|…|; the centre lies against the
  // outward normal, so the curvatures are −1/20 and 0.
  const Surface s(sampled_face(cylinder(O, 20), -15, 15, -15, 15, 1, 0, 5), {.spacing = 1, .noise = 0});
  const Vec3 at(1, 0.3, 20.4);
  const LocalFit f = cavity::fit_local(s, at, Z, 0);
  REQUIRE(f.ok);
  const Vec3 m = Vec3(1, 0, 20.4).normalized();
  CHECK((f.point - (20 * m + 0.3 * Y)).norm() < 1e-3);
  CHECK((f.normal - m).norm() < 1e-4);
  CHECK(f.k1 == Approx(-0.05).epsilon(0.01));
  CHECK(f.k2 == Approx(0).margin(5e-4));
}

TEST_CASE("Seen from inside, the centre of a cylinder is on the normal side") {
  const Surface s(sampled_face(cylinder(O, 20), -15, 15, -15, 15, 1, 0, 5), {.spacing = 1, .noise = 0});
  const LocalFit f = cavity::fit_local(s, Vec3(0, 0, 20), -Z, 0);
  REQUIRE(f.ok);
  CHECK(f.normal.z() < 0);
  CHECK(f.k1 == Approx(0.05).epsilon(0.01));
}

TEST_CASE("Points of the other face of a 3 mm rib do not pull the fit") {
  auto points = sampled_face(plane(O, X, Y), -10, 10, -10, 10, 1, 0.02, 1);
  append(points, sampled_face(plane(-3 * Z, X, Y), -10, 10, -10, 10, 1, 0.02, 2));
  const Surface s(points, {.spacing = 1, .noise = 0.02});
  const LocalFit f = cavity::fit_local(s, Vec3(0.3, 0.2, 0.1), Z, 0);
  REQUIRE(f.ok);
  CHECK(std::abs(f.point.z()) < 0.02);
  CHECK(f.normal.z() > 0.999);
}

TEST_CASE("One point in twenty lifted by 0.5 mm does not pull the fit") {
  auto points = sampled_face(plane(O, X, Y), -10, 10, -10, 10, 1, 0.02, 1);
  for (std::size_t i = 0; i < points.size(); i += 20) points[i].z() += 0.5;
  const Surface s(points, {.spacing = 1, .noise = 0.02});
  const LocalFit f = cavity::fit_local(s, Vec3(0.3, 0.2, 0), Z, 0);
  REQUIRE(f.ok);
  CHECK(std::abs(f.point.z()) < 0.02);
}

TEST_CASE("A step beside the place does not pull the fit") {
  // Flat at z = 0 for x < 3, at z = 1 beyond: the foot is 3 spacings from the step.
  auto points = sampled_face(plane(O, X, Y), -12, 3, -10, 10, 1, 0.02, 1);
  append(points, sampled_face(plane(Z, X, Y), 3.5, 12, -10, 10, 1, 0.02, 2));
  const Surface s(points, {.spacing = 1, .noise = 0.02});
  const LocalFit f = cavity::fit_local(s, O, Z, 0);
  REQUIRE(f.ok);
  CHECK(std::abs(f.point.z()) < 3 * f.u);
}

TEST_CASE("A tight radius costs uncertainty and the error stays within it") {
  // Sphere of radius 4 at 1 mm: the neighbourhood spans most of it.
  const Surface tight(sampled_face(sphere(O, 4), -5, 5, -5, 5, 1, 0, 7), {.spacing = 1, .noise = 0});
  const Surface wide(sampled_face(sphere(O, 40), -15, 15, -15, 15, 1, 0, 7), {.spacing = 1, .noise = 0});
  const LocalFit a = cavity::fit_local(tight, Vec3(0, 0, 4), Z, 0), b = cavity::fit_local(wide, Vec3(0, 0, 40), Z, 0);
  REQUIRE(a.ok);
  REQUIRE(b.ok);
  CHECK(a.u > 20 * b.u);
  CHECK(std::abs(a.point.norm() - 4) <= 2 * a.u);
}

TEST_CASE("A place beyond the border of the scan has no foot on it") {
  const Surface s(sampled_face(plane(O, X, Y), -10, 10, -10, 10, 1, 0, 1), {.spacing = 1, .noise = 0});
  CHECK_FALSE(cavity::fit_local(s, Vec3(14, 0, 0), Z, 0).ok);
  CHECK(cavity::fit_local(s, Vec3(9.5, 0, 0), Z, 0).ok);
}

TEST_CASE("A place in a hole of the scan has no foot on it") {
  std::vector<Vec3> points;
  for (const Vec3& p : sampled_face(plane(O, X, Y), -15, 15, -15, 15, 1, 0, 1))
    if (p.norm() > 4) points.push_back(p);
  CHECK_FALSE(cavity::fit_local(Surface(points, {.spacing = 1, .noise = 0}), O, Z, 0).ok);
}
