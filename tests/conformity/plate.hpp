// A hand-built flat sheet and gap map, so that these tests lean on no other stage.
#pragma once
#include <cstdint>
#include <functional>

#include "gapfront/conformity.hpp"

namespace plate {

using namespace gapfront;

/// Triangulated rectangle centred on the origin, gap direction +Z. Alternating diagonals keep it isotropic.
inline Sheet sheet(double lx, double ly, double h) {
  Sheet s;
  const int nx = static_cast<int>(lx / h + 0.5) + 1, ny = static_cast<int>(ly / h + 0.5) + 1;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      s.mesh.points.emplace_back(-lx / 2 + i * h, -ly / 2 + j * h, 0);
      s.rim.push_back(i == 0 || j == 0 || i == nx - 1 || j == ny - 1);
    }
  for (int j = 0; j + 1 < ny; ++j)
    for (int i = 0; i + 1 < nx; ++i) {
      const int a = j * nx + i, b = a + 1, c = a + nx + 1, d = a + nx;
      if ((i + j) % 2) {
        s.mesh.triangles.push_back({a, b, c});
        s.mesh.triangles.push_back({a, c, d});
      } else {
        s.mesh.triangles.push_back({a, b, d});
        s.mesh.triangles.push_back({b, c, d});
      }
    }
  s.normals.assign(s.mesh.points.size(), Vec3::UnitZ());
  s.area.assign(s.mesh.points.size(), 0);
  for (const auto& t : s.mesh.triangles)
    for (int k : t) s.area[k] += h * h / 6;  // a third of h²/2
  return s;
}

/// Gaussian numbers from a fixed generator (sum of twelve uniforms, so every platform draws the same).
struct Noise {
  std::uint64_t state;
  double uniform() {
    state = state * 6364136223846793005ull + 1442695040888963407ull;
    return static_cast<double>(state >> 11) / 9007199254740992.0;
  }
  double operator()() {
    double sum = -6;
    for (int i = 0; i < 12; ++i) sum += uniform();
    return sum;
  }
};

/// u_fit 1σ per node, independent; U = 2 u.
inline GapMap gap(const Sheet& s, double u_fit, const std::function<double(const Vec3&)>& value) {
  GapMap g;
  for (const Vec3& p : s.mesh.points) {
    NodeGap n;
    n.measured = true;
    n.gap = n.along_normal = value(p);
    n.mid = p + 0.5 * n.gap * Vec3::UnitZ();
    n.u_lower = n.u_upper = u_fit / std::sqrt(2.0);
    n.U = 2 * u_fit;
    g.nodes.push_back(n);
  }
  return g;
}

inline double bump(const Vec3& p, const Vec3& centre, double radius) {
  const double r2 = (p - centre).squaredNorm() / (radius * radius);
  return r2 < 1 ? (1 - r2) * (1 - r2) : 0;
}

}  // namespace plate
