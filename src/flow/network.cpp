#include "flow/network.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "core/neighbours.hpp"
#include "gapfront/error.hpp"

namespace gapfront::flow {
namespace {

using Matrix3 = Eigen::Matrix3d;

// Conductance tensor of a node in space; isotropic nodes give a multiple of the identity, which acts in the
// triangle's plane only, because gradients lie there.
Matrix3 tensor(const NodeLaminate& n) {
  if (n.direction.squaredNorm() < 0.5) return n.conductance * Matrix3::Identity();
  const Vec3 d = n.direction.normalized();
  return n.conductance2 * Matrix3::Identity() + (n.conductance - n.conductance2) * d * d.transpose();
}

// Of a triangle with one corner at the node and the others so far downstream (a, b), the share that lies upstream.
double part_upstream(double a, double b) {
  if (a >= 0 && b >= 0) return 0;
  if (a <= 0 && b <= 0) return 1;
  return std::min(a, b) / -std::abs(a - b);
}

// Works on whatever has rows.
template <class Rows>
std::ptrdiff_t entry_of(const Rows& r, int i, int j) {
  return std::lower_bound(r.to.begin() + r.start[i], r.to.begin() + r.start[i + 1], j) - r.to.begin();
}

// Parts of a triangle's side, for what of it lies in a mouth: a 64th of a triangle is a hundredth of a cell.
constexpr int kParts = 8;

/// Calls f(x, y) at the middle of each small triangle, of as many along each side, in shares of the two sides.
template <class F>
void for_parts(F&& f) {
  for (int i = 0; i < kParts; ++i)
    for (int j = 0; i + j < kParts; ++j)
      for (const double off : {1.0 / 3, 2.0 / 3})
        if (off < 0.5 || i + j < kParts - 1) f((i + off) / kParts, (j + off) / kParts);
}

/// What of each cell is in the mouth; a cell is what lies nearest to its node. Where nothing is (a line without width)
/// the vent's nodes are.
std::vector<Mouth> mouth_of(const Sheet& sheet, const Vent& vent, const std::vector<int>& nodes) {
  std::map<int, double> inside;  // mm²
  for (const auto& t : sheet.mesh.triangles) {
    const Vec3 &a = sheet.mesh.points[t[0]], u = sheet.mesh.points[t[1]] - a, v = sheet.mesh.points[t[2]] - a;
    if (distance_to_path(a, vent.path) > vent.radius + std::max(u.norm(), v.norm())) continue;
    const double part = 0.5 * u.cross(v).norm() / (kParts * kParts);
    for_parts([&](double x, double y) {
      if (distance_to_path(a + x * u + y * v, vent.path) > vent.radius) return;
      const double z = 1 - x - y;
      inside[z >= x && z >= y ? t[0] : x >= y ? t[1] : t[2]] += part;
    });
  }
  std::vector<Mouth> out;
  for (const auto& [node, area] : inside) out.push_back({node, std::min(1.0, area / sheet.area[node])});
  if (out.empty())
    for (const int i : nodes) out.push_back({i, 1});
  return out;
}

bool isotropic(const NodeLaminate& n) { return n.direction.squaredNorm() < 0.5; }

}  // namespace

Links::Links(const Sheet& sheet) {
  const int n = static_cast<int>(sheet.size());
  const auto& points = sheet.mesh.points;
  const auto near = neighbours(sheet.mesh);
  start.assign(n + 1, 0);
  for (int i = 0; i < n; ++i) {
    start[i + 1] = start[i] + static_cast<int>(near[i].size());
    to.insert(to.end(), near[i].begin(), near[i].end());
    for (int j : near[i]) way.push_back(points[j] - points[i]), length.push_back(way.back().norm());
  }
  fan_start.assign(n + 1, 0);
  for (const auto& t : sheet.mesh.triangles)
    for (int i : t) ++fan_start[i + 1];
  std::partial_sum(fan_start.begin(), fan_start.end(), fan_start.begin());
  fan.resize(fan_start[n]);
  auto next = fan_start;
  for (const auto& t : sheet.mesh.triangles) {
    int there[3], back[3];  // along the sides
    for (int k = 0; k < 3; ++k) {
      const int a = t[k], b = t[(k + 1) % 3];
      there[k] = static_cast<int>(entry_of(*this, a, b)), back[k] = static_cast<int>(entry_of(*this, b, a));
    }
    const double twice = way[there[0]].cross(way[back[2]]).norm();
    auto& side = sides.emplace_back();
    for (int k = 0; k < 3; ++k) {
      const int before = (k + 2) % 3;
      fan[next[t[k]]++] = {there[k], back[before], twice};
      // Half the cotangent of the angle opposite to the side: linear elements.
      const Vec3 &u = way[back[(k + 1) % 3]], &v = way[there[before]];
      side[k] = {twice > 0 ? there[k] : -1, back[k], twice > 0 ? 0.5 * u.dot(v) / twice : 0};
    }
  }
}

Network build_network(const Links& links, const Sheet& sheet, const LaminateMap& laminate) {
  const int n = static_cast<int>(sheet.size());
  if (laminate.nodes.size() != sheet.size())
    throw Error(Fault::input, "flow: the laminate belongs to another sheet; evaluate it on this one");
  Network net;
  net.start = links.start, net.to = links.to;
  net.t.assign(net.to.size(), 0);
  for (std::size_t k = 0; k < links.sides.size(); ++k) {
    const auto& tri = sheet.mesh.triangles[k];
    const auto& sides = links.sides[k];
    if (sides[0].there < 0) continue;
    const NodeLaminate* at[3] = {&laminate.nodes[tri[0]], &laminate.nodes[tri[1]], &laminate.nodes[tri[2]]};
    const auto join = [&](const Links::Side& s, double t) { net.t[s.there] += t, net.t[s.back] += t; };
    // The mean of the corners is exact for a conductance that varies linearly over the triangle.
    if (isotropic(*at[0]) && isotropic(*at[1]) && isotropic(*at[2])) {
      const double c = (at[0]->conductance + at[1]->conductance + at[2]->conductance) / 3;
      for (const auto& s : sides) join(s, c * s.unit);
      continue;
    }
    const Matrix3 c = (tensor(*at[0]) + tensor(*at[1]) + tensor(*at[2])) / 3;
    const Vec3 x[3] = {links.way[sides[0].there], links.way[sides[1].there], links.way[sides[2].there]};
    const Vec3 normal = x[0].cross(x[1]);
    const double twice = normal.norm();
    Vec3 g[3];
    for (int j = 0; j < 3; ++j) g[j] = (normal / twice).cross(x[(j + 1) % 3]) / twice;
    for (int j = 0; j < 3; ++j) join(sides[j], -0.5 * twice * g[j].dot(c * g[(j + 1) % 3]));
  }
  net.volume.resize(n);
  for (int i = 0; i < n; ++i) {
    const auto& l = laminate.nodes[i];
    net.volume[i] = sheet.area[i] * l.fluid_thickness;
    net.width.push_back(std::sqrt(sheet.area[i]));
    // Geometric mean: across an ellipse's axes that is the distance in the metric of the conductances.
    net.reach.push_back(2 * std::sqrt(l.conductance * l.conductance2) / std::max(l.fluid_thickness, 1e-300));
  }
  return net;
}

double fraction_upstream(const Links& links, int i, const Vec3& direction) {
  double up = 0, all = 0;
  for (int k = links.fan_start[i]; k < links.fan_start[i + 1]; ++k) {
    const auto& f = links.fan[k];
    // A third of the triangle: on both sides of the line to its middle, half each.
    const double x = links.way[f.a].dot(direction), y = links.way[f.b].dot(direction), middle = (x + y) * 2 / 3;
    up += f.twice * (part_upstream(x, middle) + part_upstream(middle, y)) / 2;
    all += f.twice;
  }
  // 0.02 keeps an arrival after the start.
  return all > 0 ? std::clamp(up / all, 0.02, 1.0) : 0.5;
}

std::vector<char> Ports::in_mouths(int nodes) const {
  std::vector<char> out(static_cast<std::size_t>(nodes), 0);
  for (const auto& mouth : mouths)
    for (const Mouth& m : mouth) out[static_cast<std::size_t>(m.node)] = 1;
  return out;
}

Ports find_ports(const Sheet& sheet, const FlowOptions& o) {
  const int n = static_cast<int>(sheet.size());
  Ports ports;
  std::vector<char> in(n, 0);
  for (const auto& inlet : o.inlets) {
    bool touches = false;
    for (int i = 0; i < n; ++i)
      if (inlet.perimeter && !inlet.has_section()
              ? sheet.rim[i] != 0
              : !inlet.path.empty() && distance_to_path(sheet.mesh.points[i], inlet.path) <= inlet.radius)
        in[i] = 1, touches = true;
    if (!touches)
      throw Error(Fault::input, "flow: inlet \"" + inlet.name +
                                    "\" touches no node of the sheet; check its place, or "
                                    "give a larger radius");
  }
  for (int i = 0; i < n; ++i)
    if (in[i]) ports.inlet.push_back(i);
  for (const auto& vent : o.vents) {
    std::vector<int> nodes;
    for (int i = 0; i < n; ++i)
      if (!vent.path.empty() && distance_to_path(sheet.mesh.points[i], vent.path) <= vent.radius) nodes.push_back(i);
    if (nodes.empty())
      throw Error(Fault::input, "flow: vent \"" + vent.name +
                                    "\" touches no node of the sheet; check its place, or "
                                    "give a larger radius");
    ports.mouths.push_back(mouth_of(sheet, vent, nodes));
    ports.vents.push_back(std::move(nodes));
  }
  return ports;
}

}  // namespace gapfront::flow
