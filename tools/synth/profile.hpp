// Cross-section of a dished or raised shape: level – concave arc – straight wall – convex arc – level.
#pragma once
#include <Eigen/Core>
#include <cmath>

namespace gapfront::synth {

using Vec2 = Eigen::Vector2d;

struct ProfileFoot {
  Vec2 point, normal;
  double distance;
};

/// In the (s, z) plane: the upper level z = 0 for s ≥ 0, the lower level z = −depth for s ≤ s1.
struct Profile {
  double depth, concave, convex, turn;  ///< turn: angle between level and wall, rad
  double wall, s1;
  Vec2 foot_of_wall, wall_normal;

  Profile(double depth_, double concave_, double convex_, double turn_)
      : depth(depth_), concave(concave_), convex(convex_), turn(turn_) {
    const double c = std::cos(turn), s = std::sin(turn);
    wall = (depth - (concave + convex) * (1 - c)) / s;
    s1 = -(concave + convex) * s - wall * c;
    foot_of_wall = Vec2(s1 + concave * s, -depth + concave * (1 - c));
    wall_normal = Vec2(-s, c);
  }

  /// Exact signed distance near the curve: the pieces meet tangentially, so their normals divide the plane.
  ProfileFoot foot(const Vec2& p) const {
    if (p.x() <= s1) return {Vec2(p.x(), -depth), Vec2(0, 1), p.y() + depth};
    if (p.x() >= 0) return {Vec2(p.x(), 0), Vec2(0, 1), p.y()};
    const Vec2 a = p - Vec2(s1, -depth + concave), b = p - Vec2(0, -convex);
    const double in_a = std::atan2(a.x(), -a.y()), in_b = std::atan2(-b.x(), b.y());
    const double da = concave - a.norm(), db = b.norm() - convex;
    const bool on_a = in_a >= 0 && in_a <= turn, on_b = in_b >= 0 && in_b <= turn;
    if (on_a && (!on_b || std::abs(da) < std::abs(db))) {
      const Vec2 u = a.normalized();
      return {p - a + u * concave, -u, da};
    }
    if (on_b) {
      const Vec2 u = b.normalized();
      return {p - b + u * convex, u, db};
    }
    const double d = wall_normal.dot(p - foot_of_wall);
    return {p - d * wall_normal, wall_normal, d};
  }

  /// Height of the curve at s; the wall has draft, so it is single-valued.
  double z(double s) const {
    if (s <= s1) return -depth;
    if (s >= 0) return 0;
    if (s < foot_of_wall.x()) return -depth + concave - std::sqrt(concave * concave - (s - s1) * (s - s1));
    if (s > -convex * std::sin(turn)) return -convex + std::sqrt(convex * convex - s * s);
    return foot_of_wall.y() + (s - foot_of_wall.x()) * std::tan(turn);
  }

  /// Length from s1 to s = 0 of the curve offset by `off` along its normals.
  double length(double off) const { return (concave - off) * turn + wall + (convex + off) * turn; }

  /// Foot whose offset point lies at length u of the offset curve; beyond the end it runs along the upper level.
  ProfileFoot at(double u, double off) const {
    const double a = (concave - off) * turn, b = (convex + off) * turn;
    if (u < a) {
      const double f = u / (concave - off);
      return {Vec2(s1 + concave * std::sin(f), -depth + concave * (1 - std::cos(f))), Vec2(-std::sin(f), std::cos(f)),
              0};
    }
    u -= a;
    if (u < wall) return {foot_of_wall + u * Vec2(std::cos(turn), std::sin(turn)), wall_normal, 0};
    u -= wall;
    if (u < b) {
      const double f = turn - u / (convex + off);
      return {Vec2(-convex * std::sin(f), -convex * (1 - std::cos(f))), Vec2(-std::sin(f), std::cos(f)), 0};
    }
    return {Vec2(u - b, 0), Vec2(0, 1), 0};
  }
};

}  // namespace gapfront::synth
