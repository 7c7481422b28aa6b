// Closed-form faces, sampled like a scanner would: a jittered grid of points with normal noise.
#pragma once
#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>
#include "../random.hpp"
#include "gapfront/cavity.hpp"

namespace sheet_shapes {

constexpr double pi = std::numbers::pi;

using gapfront::Vec3;

struct Sampled {
  std::vector<Vec3> points;
  double spacing = 1, noise = 0.02;
  support::Random dice{7};
  /// Adds the patch f(u, v) → (place, normal) over [0,a] × [0,b], u and v arc lengths in mm.
  template <class F>
  void patch(double a, double b, F&& f) {
    const int m = std::max(1, int(std::lround(a / spacing))), n = std::max(1, int(std::lround(b / spacing)));
    for (int i = 0; i < m; ++i)
      for (int j = 0; j < n; ++j) {
        const double u = (i + 0.2 + 0.6 * dice.uniform()) * a / m, v = (j + 0.2 + 0.6 * dice.uniform()) * b / n;
        const std::pair<Vec3, Vec3> s = f(u, v);
        points.push_back(s.first + noise * dice.gauss() * s.second);
      }
  }
  gapfront::Surface surface() const { return gapfront::Surface(points, {.spacing = spacing, .noise = noise}); }
};

/// A profile in the X–Z plane made of lines and arcs with tangent joints, walked by arc length, swept along Y.
struct Profile {
  struct Part {
    double length, turn;
  };  ///< turn: 1/radius, signed (positive: to the left)
  Vec3 start = Vec3::Zero();
  double heading = 0;  ///< rad, from +X towards +Z; the normal is on the left
  std::vector<Part> parts;
  double length() const {
    double sum = 0;
    for (const Part& p : parts) sum += p.length;
    return sum;
  }
  std::pair<Vec3, Vec3> at(double s) const {
    Vec3 x = start;
    double h = heading;
    for (const Part& p : parts) {
      const double l = std::min(s, p.length);
      if (p.turn == 0) {
        x += l * Vec3(std::cos(h), 0, std::sin(h));
      } else {
        const double r = 1 / p.turn;
        x += r * Vec3(std::sin(h + l * p.turn) - std::sin(h), 0, std::cos(h) - std::cos(h + l * p.turn));
        h += l * p.turn;
      }
      if ((s -= l) <= 0) break;
    }
    return {x, Vec3(-std::sin(h), 0, std::cos(h))};
  }
  /// Distance of a point from the swept profile: height over the tangent at the nearest of dense stations
  /// (0.05 mm apart: at a radius of 1 mm the height is right to 0.025²/2 mm = 0.3 µm).
  double distance(const Vec3& p) const {
    double best = 1e300, height = 0;
    for (double s = 0, l = length(); s <= l; s += 0.05) {
      const auto [x, n] = at(s);
      const double d = std::hypot(x.x() - p.x(), x.z() - p.z());
      if (d < best) best = d, height = std::abs((p.x() - x.x()) * n.x() + (p.z() - x.z()) * n.z());
    }
    return height;
  }
};

inline std::vector<Vec3> rectangle(double x0, double y0, double x1, double y1) {
  return {{x0, y0, 0}, {x1, y0, 0}, {x1, y1, 0}, {x0, y1, 0}};
}

inline double total_area(const gapfront::Sheet& s) {
  double sum = 0;
  for (double a : s.area) sum += a;
  return sum;
}

/// Vertices − edges + triangles.
inline int euler(const gapfront::Mesh& m) {
  std::vector<std::pair<int, int>> edges;
  for (const auto& t : m.triangles)
    for (int k = 0; k < 3; ++k) edges.push_back(std::minmax({t[k], t[(k + 1) % 3]}));
  std::sort(edges.begin(), edges.end());
  edges.erase(std::unique(edges.begin(), edges.end()), edges.end());
  return int(m.points.size()) - int(edges.size()) + int(m.triangles.size());
}

}  // namespace sheet_shapes
