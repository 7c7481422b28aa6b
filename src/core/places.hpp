// The middle of places; a place in the plane of a triangle.
#pragma once
#include <array>
#include <optional>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

/// Of places, one at least.
inline Vec3 mean_place(const std::vector<Vec3>& places) {
  Vec3 sum = Vec3::Zero();
  for (const Vec3& p : places) sum += p;
  return sum / static_cast<double>(places.size());
}

/// The shares of the corners at a place (its barycentric coordinates; negative ones: it is outside). Where the place is
/// off the triangle's plane they are those of its foot on it. Nothing for a triangle without an area.
inline std::optional<Vec3> shares_in_triangle(const Mesh& m, const std::array<int, 3>& t, const Vec3& p) {
  const Vec3 &a = m.points[t[0]], e1 = m.points[t[1]] - a, e2 = m.points[t[2]] - a;
  const Vec3 n = e1.cross(e2), r = p - a;
  if (n.squaredNorm() == 0) return std::nullopt;
  const double v = r.cross(e2).dot(n) / n.squaredNorm(), w = e1.cross(r).dot(n) / n.squaredNorm();
  return Vec3(1 - v - w, v, w);
}

}  // namespace gapfront
