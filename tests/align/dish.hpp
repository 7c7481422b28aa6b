// An invented mold face, scanned and meshed.
#pragma once
#include <cmath>

#include "support.hpp"

namespace support {

using gapfront::Mesh;

/// A dish without symmetry: an invented mold face with a bump, a groove and a rim.
inline double dish(double x, double y) {
  const double bump = 18 * std::exp(-((x - 60) * (x - 60) + (y + 20) * (y + 20)) / 900);
  const double groove = -12 * std::exp(-std::pow(x + 0.4 * y + 50, 2) / 200);
  return bump + groove + 0.0006 * x * x - 0.0009 * y * y + 8 * std::tanh((y - 45) / 8);
}
/// The same turned by 180° about Z.
inline double twofold(double x, double y) { return dish(x, y) + dish(-x, -y); }

using Shape = double (*)(double, double);

inline std::vector<Vec3> scanned(Shape shape, double spacing, double noise, double cut, Random& random) {
  std::vector<Vec3> out;
  for (double x = -120; x <= cut; x += spacing)
    for (double y = -80; y <= 80; y += spacing) {
      const double px = x + 0.4 * spacing * (random.uniform() - 0.5), py = y + 0.4 * spacing * (random.uniform() - 0.5);
      out.emplace_back(px, py, shape(px, py) + noise * random.gauss());
    }
  return out;
}

inline Mesh meshed(Shape shape, double spacing) {
  Mesh m;
  const int nx = static_cast<int>(240 / spacing), ny = static_cast<int>(160 / spacing);
  for (int i = 0; i <= nx; ++i)
    for (int j = 0; j <= ny; ++j) {
      const double x = -120 + spacing * i, y = -80 + spacing * j;
      m.points.emplace_back(x, y, shape(x, y));
      if (i == nx || j == ny) continue;
      const int a = i * (ny + 1) + j, b = a + ny + 1;
      m.triangles.push_back({a, b, b + 1});
      m.triangles.push_back({a, b + 1, a + 1});
    }
  return m;
}

inline std::vector<Vec3> moved(const std::vector<Vec3>& points, const Rigid& motion) {
  std::vector<Vec3> out;
  for (const Vec3& p : points) out.push_back(motion * p);
  return out;
}

inline Rigid any_pose(Random& random) {
  return pose(500 * random.gauss(), 500 * random.gauss(), 500 * random.gauss(), 2 * M_PI * random.uniform(),
              random.vector());
}

}  // namespace support
