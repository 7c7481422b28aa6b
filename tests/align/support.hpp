// Made-up scans of balls on flats, with known truth.
#pragma once
#include <Eigen/Geometry>
#include <cmath>
#include <string>
#include <vector>

#include "../random.hpp"
#include "gapfront/align.hpp"
#include "gapfront/text.hpp"

namespace support {

using gapfront::Rigid;
using gapfront::Vec3;

inline bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }
inline bool says(const gapfront::Messages& m, const std::string& part) { return says(gapfront::say(m), part); }

inline Rigid pose(double x, double y, double z, double angle, const Vec3& axis) {
  Rigid m = Rigid::Identity();
  m.linear() = Eigen::AngleAxisd(angle, axis.normalized()).toRotationMatrix();
  m.translation() = Vec3(x, y, z);
  return m;
}

/// Cap of a ball seen from +Z down to `lowest` (−1: all of it, 0: upper half), n points with noise along the normal.
inline void add_ball(std::vector<Vec3>& out, const Vec3& centre, double radius, double lowest, int n, double noise,
                     Random& random) {
  const double golden = M_PI * (3 - std::sqrt(5.0));
  for (int i = 0; i < n; ++i) {
    const double z = 1 - (1 - lowest) * (i + 0.5) / n, s = std::sqrt(1 - z * z), a = golden * i;
    const Vec3 d(s * std::cos(a), s * std::sin(a), z);
    out.push_back(centre + (radius + noise * random.gauss()) * d);
  }
}

/// Flat square around a place, normal +Z, with a round hole under the ball.
inline void add_flat(std::vector<Vec3>& out, const Vec3& middle, double half, double spacing, double hole, double noise,
                     Random& random) {
  for (double x = -half; x <= half; x += spacing)
    for (double y = -half; y <= half; y += spacing)
      if (std::hypot(x, y) > hole)
        out.push_back(middle + Vec3(x + 0.2 * spacing * random.gauss(), y + 0.2 * spacing * random.gauss(),
                                    noise * random.gauss()));
}

inline gapfront::Target ball_target(const std::string& name, double diameter, const Vec3& lower, const Vec3& upper) {
  gapfront::Target t;
  t.name = name, t.ball = diameter, t.lower = {lower}, t.upper = {upper};
  return t;
}

inline gapfront::Target point_target(const std::string& name, const Vec3& lower, const Vec3& upper) {
  gapfront::Target t;
  t.name = name, t.lower = {lower}, t.upper = {upper};
  return t;
}

}  // namespace support
