// What a quadric leaves out at tight radii: U has to cover it, and not by orders of magnitude.
#include <catch2/catch.hpp>
#include "gap_cases.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {

/// A flat, a quarter of a cylinder and a wall, by arc length: the curvature jumps at both ends of the radius.
Face bend(double radius) {
  const double quarter = M_PI / 2 * radius;
  return [=](double u, double v) {
    if (u < 0) return Point{Vec3(u, v, 0), Vec3::UnitZ()};
    const double a = std::min(u, quarter) / radius;
    const Vec3 m(std::sin(a), 0, std::cos(a));
    Vec3 p = Vec3(0, v, -radius) + radius * m;
    p.z() -= std::max(0.0, u - quarter);
    return Point{p, m};
  };
}

struct Truncation {
  double covered = 0, error = 0, u = 0, worst_u = 0;  ///< share; root mean squares and greatest u, mm
};

/// Noise-free fits at places on the face itself, 1 mm spacing: the foot should not move, what it does is truncation.
Truncation run(const Face& face, double range) {
  Truncation r;
  int n = 0;
  for (unsigned seed : {100u, 101u, 102u, 103u}) {
    const Surface s(sampled_face(face, -16, 16, -16, 16, 1, 0, seed), {.spacing = 1, .noise = 0});
    for (double u = -range; u <= range; u += 0.37)
      for (double v = -range; v <= range; v += 1.13) {
        const Point p = face(u, v);
        const LocalFit f = cavity::fit_local(s, p.place, p.normal, 0);
        REQUIRE(f.ok);
        const double e = (f.point - p.place).dot(f.normal);
        ++n;
        r.covered += std::abs(e) <= 2 * f.u + 1e-9;  // a millionth of a micrometre for rounding on flats
        r.error += e * e, r.u += f.u * f.u, r.worst_u = std::max(r.worst_u, f.u);
      }
  }
  return {r.covered / n, std::sqrt(r.error / n), std::sqrt(r.u / n), r.worst_u};
}

/// Covered, never ignored, and not beyond `most` times the truth in root mean square.
void check(const Truncation& r, double most) {
  CHECK(r.covered >= 0.93);
  CHECK(r.u >= 0.5 * r.error);
  CHECK(r.u <= most * r.error);
}

}  // namespace

// Cubic and quartic terms have taken a tenth off the error of the second case (4.6 to 4.15 µm, root mean square); u,
// which is by what they leave, is about the one that it was (11 to 13.5 µm), hence 3.3 times the smaller error.
TEST_CASE("Where curvature varies along the face, U covers the truncation within a factor of three or little more") {
  check(run(waves(0.5, 20), 7), 3);
  check(run(waves(1, 16), 7), 3.3);
  check(run(waves(1, 12), 7), 3);
}

TEST_CASE("At the ends of a radius between flats, U covers the truncation within a factor of three") {
  for (double radius : {4.0, 8.0, 16.0}) check(run(bend(radius), 10), 3);
}

TEST_CASE("A tight doubly curved face of constant curvature costs micrometres of U, not tens of them") {
  // Radius of 6 spacings: the constant-curvature terms leave under a micrometre. A plane as the inner fit would show
  // its own bow there instead, r²/(12 R) per direction with r = 2.6/√2 mm: some 90 µm.
  const Truncation ball = run(sphere(O, 6), 4), ring = run(torus(12, 4), 4);
  // A ball's own truncation is nil (0.05 µm are measured); what stays in u is a fifth of the correction, for faces
  // whose curvature is not constant.
  CHECK(ball.covered >= 0.93);
  CHECK(ball.u >= 0.5 * ball.error);
  CHECK(ball.u < 0.001);
  check(ring, 3);
  CHECK(ball.worst_u < 0.005);
  CHECK(ring.worst_u < 0.015);
}
