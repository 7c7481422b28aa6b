// make_sheet: what a given mesh needs to serve as a sheet.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include "cavity/sheet_mesh.hpp"
#include "core/statistics.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

[[noreturn]] void refuse(const std::string& why) {
  throw Error(Fault::measurement, "sheet: " + why + "; repair the mesh or let the sheet be built from the scan");
}

/// Each directed side once: more would be a fold, a third triangle, or neighbours wound against each other.
/// Around each vertex the triangles form one fan.
void require_manifold(const Mesh& m) {
  struct Side {
    int from, to;
    auto operator<=>(const Side&) const = default;
  };
  std::vector<Side> sides;
  for (const auto& t : m.triangles)
    for (int k = 0; k < 3; ++k) {
      if (t[k] < 0 || t[k] >= int(m.points.size())) refuse("a triangle names a point that does not exist");
      if (t[k] == t[(k + 1) % 3]) refuse("a triangle uses point " + std::to_string(t[k]) + " twice");
      sides.push_back({t[k], t[(k + 1) % 3]});
    }
  std::sort(sides.begin(), sides.end());
  if (const auto twice = std::adjacent_find(sides.begin(), sides.end()); twice != sides.end())
    refuse("not a manifold with one orientation at the side from point " + std::to_string(twice->from) + " to " +
           std::to_string(twice->to));
  const std::vector<int> fans = fans_of(m);
  std::vector<int> fan_at(m.points.size(), -1);
  for (std::size_t c = 0; c < fans.size(); ++c) {
    const int v = m.triangles[c / 3][c % 3];
    if (fan_at[v] >= 0 && fan_at[v] != fans[c]) refuse("two parts meet in point " + std::to_string(v) + " only");
    fan_at[v] = fans[c];
  }
}

}  // namespace

Sheet make_sheet(Mesh mesh) {
  if (mesh.points.empty() || mesh.triangles.empty()) refuse("the mesh is empty");
  require_manifold(mesh);
  Sheet s;
  s.normals = vertex_normals(mesh);
  s.area.assign(mesh.points.size(), 0);
  s.rim.assign(mesh.points.size(), 0);
  std::vector<double> angles, edges;
  for (const auto& t : mesh.triangles) {
    const Vec3 a = mesh.points[t[1]] - mesh.points[t[0]], b = mesh.points[t[2]] - mesh.points[t[0]], c = b - a;
    const double area = 0.5 * a.cross(b).norm();
    for (int v : t) s.area[v] += area / 3;
    for (const Vec3& side : {a, b, c}) edges.push_back(side.norm());
    const double at0 = std::atan2(2 * area, a.dot(b)), at1 = std::atan2(2 * area, -a.dot(c));
    angles.push_back(std::min({at0, at1, std::numbers::pi - at0 - at1}));
  }
  // The worst one in a hundred set aside: a few triangles at corners of the seal line cannot be helped.
  s.min_angle_deg = ranked_value(std::move(angles), 0.01) * 180 / std::numbers::pi;
  // Sides that two triangles share count twice, which changes no percentile to speak of.
  s.edge_p05 = ranked_value(edges, 0.05), s.edge_p50 = median(edges), s.edge_p95 = ranked_value(edges, 0.95);
  double longest = 0;
  std::vector<int> rim;
  for (const auto& loop : boundary_loops(mesh)) {
    double length = 0;
    for (std::size_t i = 0; i < loop.size(); ++i)
      length += (mesh.points[loop[(i + 1) % loop.size()]] - mesh.points[loop[i]]).norm();
    if (length > longest) longest = length, rim = loop;
  }
  for (int v : rim) s.rim[v] = 1;
  s.mesh = std::move(mesh);
  return s;
}

}  // namespace gapfront::cavity
