// Analytic faces sampled as a scan would, for the tests of surface, fit and gap.
#pragma once
#include <cmath>
#include <functional>
#include <vector>
#include "../random.hpp"
#include "gapfront/cavity.hpp"

namespace gap_cases {

using gapfront::Surface;
using gapfront::Vec3;

inline const Vec3 X = Vec3::UnitX(), Y = Vec3::UnitY(), Z = Vec3::UnitZ(), O = Vec3::Zero();

struct Point {
  Vec3 place, normal;
};
/// A face by two lengths along it, mm.
using Face = std::function<Point(double, double)>;

/// Scan of a face over [u0,u1]×[v0,v1]: a grid of the given spacing, jittered along the face by a quarter of it (no
/// scan is a perfect grid), with noise along the normal.
inline std::vector<Vec3> sampled_face(const Face& face, double u0, double u1, double v0, double v1, double spacing,
                                      double noise, unsigned seed) {
  support::FineRandom random(seed);
  std::vector<Vec3> points;
  for (double u = u0; u <= u1; u += spacing)
    for (double v = v0; v <= v1; v += spacing) {
      const double du = 0.5 * (random.uniform() - 0.5) * spacing, dv = 0.5 * (random.uniform() - 0.5) * spacing;
      const Point p = face(u + du, v + dv);
      points.push_back(p.place + noise * random.gauss() * p.normal);
    }
  return points;
}

inline void append(std::vector<Vec3>& to, const std::vector<Vec3>& more) {
  to.insert(to.end(), more.begin(), more.end());
}

/// Plane through `origin` spanned by unit a, b.
inline Face plane(const Vec3& origin, const Vec3& a, const Vec3& b) {
  return [=](double u, double v) { return Point{origin + u * a + v * b, a.cross(b).normalized()}; };
}
/// Cylinder along y; u is the arc length from the top.
inline Face cylinder(const Vec3& axis, double radius) {
  return [=](double u, double v) {
    const Vec3 m(std::sin(u / radius), 0, std::cos(u / radius));
    return Point{axis + radius * m + v * Vec3::UnitY(), m};
  };
}
/// Sphere around its top, in coordinates whose lengths are true along both great circles through the top.
inline Face sphere(const Vec3& centre, double radius) {
  return [=](double u, double v) {
    const double d = std::hypot(u, v), a = d / radius, s = d > 0 ? std::sin(a) / d : 1 / radius;
    const Vec3 m(s * u, s * v, std::cos(a));
    return Point{centre + radius * m, m};
  };
}
/// z = height · sin(kx) cos(0.7 ky): curvature that is never constant; (u, v) are x and y.
inline Face waves(double height, double length) {
  const double k = 2 * M_PI / length, l = 0.7 * k;
  return [=](double u, double v) {
    const double du = height * k * std::cos(k * u) * std::cos(l * v),
                 dv = -height * l * std::sin(k * u) * std::sin(l * v);
    return Point{Vec3(u, v, height * std::sin(k * u) * std::cos(l * v)), Vec3(-du, -dv, 1).normalized()};
  };
}

/// Torus about the y axis: tube radius `tube` around a ring of radius `ring`; u along the ring at its outer equator,
/// v along the tube from the outer equator.
inline Face torus(double ring, double tube) {
  return [=](double u, double v) {
    const double a = u / (ring + tube), b = v / tube;
    const Vec3 out(std::sin(a), 0, std::cos(a));
    const Vec3 m = std::cos(b) * out + std::sin(b) * Vec3::UnitY();
    return Point{ring * out + tube * m, m};
  };
}

}  // namespace gap_cases
