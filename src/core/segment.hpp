// The place of a segment that is nearest to a point; turning in plan.
#pragma once
#include <algorithm>

#include "gapfront/geometry.hpp"

namespace gapfront {

/// As a fraction of the way from a to b; 0 where both are one place.
inline double fraction_along(const Vec3& p, const Vec3& a, const Vec3& b) {
  const Vec3 d = b - a;
  const double length2 = d.squaredNorm();
  return length2 > 0 ? std::clamp((p - a).dot(d) / length2, 0.0, 1.0) : 0.0;
}

inline Vec3 nearest_on_segment(const Vec3& p, const Vec3& a, const Vec3& b) {
  return a + fraction_along(p, a, b) * (b - a);
}

/// Twice the signed area between two arrows in plan: positive where b lies counter-clockwise of a.
inline double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

}  // namespace gapfront
