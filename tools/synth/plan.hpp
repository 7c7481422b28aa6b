// The mold seen from above: distance from the dish edge and from the rib, and their cross-sections.
#pragma once
#include <algorithm>
#include "synth/profile.hpp"
#include "synth/synth.hpp"

namespace gapfront::synth {

/// Signed distance in plan, and the unit direction in which it grows.
struct PlanFoot {
  double distance;
  Vec2 direction;
};

inline double turn(const Shape& s) { return (90 - s.draft_deg) * M_PI / 180; }
inline Profile dish_profile(const Shape& s) { return Profile(s.depth, s.bottom_radius, s.top_radius, turn(s)); }
/// Two arcs that meet without a straight wall.
inline Profile rib_profile(const Shape& s) {
  return Profile(s.rib_height, s.rib_radius, s.rib_radius, std::acos(1 - s.rib_height / (2 * s.rib_radius)));
}

/// From the rounded rectangle of the dish edge; positive outside. Exact outside the corner centres' rectangle.
inline PlanFoot plan_edge(const Shape& s, const Vec2& p) {
  const Vec2 sign(p.x() < 0 ? -1 : 1, p.y() < 0 ? -1 : 1);
  const Vec2 q = p.cwiseAbs() - Vec2(s.half_x - s.corner, s.half_y - s.corner);
  if (q.x() > 0 && q.y() > 0) return {q.norm() - s.corner, q.normalized().cwiseProduct(sign)};
  return q.x() > q.y() ? PlanFoot{q.x() - s.corner, Vec2(sign.x(), 0)} : PlanFoot{q.y() - s.corner, Vec2(0, sign.y())};
}

/// From the edge of the rib's flat top; positive on the top.
inline PlanFoot plan_rib(const Shape& s, const Vec2& p) {
  const Vec2 v = p - Vec2(std::clamp(p.x(), -s.rib_x, s.rib_x), s.rib_y);
  const double r = v.norm();
  return {s.rib_half_top - r, r > 0 ? Vec2(-v / r) : Vec2(0, 1)};
}

}  // namespace gapfront::synth
