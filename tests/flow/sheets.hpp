// Sheets and laminates built by hand for the flow tests.
#pragma once
#include <cmath>
#include <functional>
#include <map>

#include "gapfront/flow.hpp"

namespace gapfront::test {

/// Areas and rim for a triangle mesh.
inline Sheet finish(Mesh mesh) {
  Sheet s;
  s.mesh = std::move(mesh);
  const auto n = s.mesh.points.size();
  s.normals.assign(n, Vec3::UnitZ());
  s.area.assign(n, 0);
  s.rim.assign(n, 0);
  std::map<std::pair<int, int>, int> edges;
  for (const auto& t : s.mesh.triangles) {
    const auto& p = s.mesh.points;
    const double a = 0.5 * (p[t[1]] - p[t[0]]).cross(p[t[2]] - p[t[0]]).norm();
    for (int k = 0; k < 3; ++k) {
      s.area[t[k]] += a / 3;
      ++edges[std::minmax(t[k], t[(k + 1) % 3])];
    }
  }
  for (const auto& [e, count] : edges)
    if (count == 1) s.rim[e.first] = s.rim[e.second] = 1;
  return s;
}

/// (nx+1)×(ny+1) nodes mapped by f(u, v), u and v in [0, 1]; inner nodes shifted by up to `shake` of a cell.
inline Sheet grid(int nx, int ny, const std::function<Vec3(double, double)>& f, double shake = 0) {
  Mesh m;
  unsigned long seed = 12345;
  const auto random = [&] {
    return double((seed = seed * 6364136223846793005ul + 1442695040888963407ul) >> 40) / (1 << 24) - 0.5;
  };
  for (int j = 0; j <= ny; ++j)
    for (int i = 0; i <= nx; ++i) {
      double u = i, v = j;
      if (i > 0 && i < nx && j > 0 && j < ny) u += 2 * shake * random(), v += 2 * shake * random();
      m.points.push_back(f(u / nx, v / ny));
    }
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const int a = j * (nx + 1) + i, b = a + 1, c = a + nx + 1, d = c + 1;
      if ((i + j) % 2) {
        m.triangles.push_back({a, b, d});
        m.triangles.push_back({a, d, c});
      } else {
        m.triangles.push_back({a, b, c});
        m.triangles.push_back({b, d, c});
      }
    }
  return finish(m);
}
inline Sheet strip(int nx, int ny, double length, double width, double shake = 0) {
  return grid(
      nx, ny, [=](double u, double v) { return Vec3(u * length, v * width, 0); }, shake);
}

/// The same state at every node: permeability 1e-3 mm² (1e-9 m²), 3 mm thick, porosity 0.83.
inline NodeLaminate state(double k = 1e-3, double h = 3, double porosity = 0.83) {
  NodeLaminate n;
  n.conductance = n.conductance2 = k * h;
  n.porosity = porosity;
  n.fluid_thickness = porosity * h;
  return n;
}
/// A ply of a lofty mat whose permeability scatters so much.
inline Ply mat(double spread) {
  Ply ply;
  auto& r = ply.reinforcement;
  r.areal_weight = 1300e-6, r.loft = 4, r.permeability.a = 1e-5, r.permeability.b = 3, r.permeability.spread = spread;
  r.compaction.a = 0.04, r.compaction.b = 0.2;
  return ply;
}
inline LaminateMap uniform(const Sheet& s, const NodeLaminate& n = state()) {
  LaminateMap m;
  m.nodes.assign(s.size(), n);
  return m;
}
/// Δp = 1e5 Pa between inlet and vent, µ = 0.2 Pa·s.
inline FlowOptions options(std::vector<Vec3> inlet, std::vector<Vec3> vent) {
  FlowOptions o;
  o.viscosity = 0.2;
  o.cavity_pressure = atmosphere_pa;
  o.pressure_limit = 1e5;
  o.inlets = {{"edge", false, std::move(inlet), 1e-6}};
  o.vents = {{"far edge", std::move(vent), 1e-6, 0}};
  return o;
}

// A disc of rings of about equal cells; z(r) lifts it to a cap.
inline Sheet disc(
    int rings, double radius, const std::function<double(double)>& z = [](double) { return 0.0; }) {
  Mesh m;
  m.points.push_back({0, 0, z(0)});
  std::vector<int> first{0};
  for (int k = 1; k <= rings; ++k) {
    first.push_back(static_cast<int>(m.points.size()));
    const double r = radius * k / rings;
    for (int j = 0; j < 6 * k; ++j)
      m.points.push_back({r * std::cos(j * M_PI / (3 * k)), r * std::sin(j * M_PI / (3 * k)), z(r)});
  }
  for (int k = 1; k <= rings; ++k)
    for (int side = 0; side < 6; ++side)
      for (int j = 0; j < k; ++j) {
        const auto outer = [&](int q) { return first[k] + (side * k + q) % (6 * k); };
        const auto inner = [&](int q) { return k == 1 ? 0 : first[k - 1] + (side * (k - 1) + q) % (6 * (k - 1)); };
        m.triangles.push_back({outer(j), outer(j + 1), inner(j)});
        if (j + 1 < k) m.triangles.push_back({inner(j), outer(j + 1), inner(j + 1)});
      }
  return finish(m);
}

}  // namespace gapfront::test
