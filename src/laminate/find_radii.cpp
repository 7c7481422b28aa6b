// Where the sheet has inside radii.
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/joined_sets.hpp"
#include "core/neighbours.hpp"
#include "gapfront/radii.hpp"

namespace gapfront::laminate {
namespace {

// Shorter than this many edges, nothing is called a radius (own choice: a dent has bends as well).
constexpr double kShortest = 5;
// Normals at nodes are means over the triangles around, and their change is fitted over the neighbours: together they
// smear a bend over so many edges, in quadrature. Own measurement on roundings of 5 to 15 mm in meshes of 3 to 6 mm
// (tests/laminate/radii.cpp holds the radius that comes of it to 30 %).
constexpr double kSmear = 1.9;

struct Bend {
  double toward = 0;  ///< 1/mm, positive where the face bends to the cavity
  Vec3 across = Vec3::Zero();
};

/// Greatest bend towards the cavity: change of the normal over the neighbours, least squares for a symmetric 2×2.
Bend bend_at(const Sheet& s, const std::vector<int>& around, int i) {
  const Vec3 n = s.normals[i], e1 = n.unitOrthogonal(), e2 = n.cross(e1);
  Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
  Vec3 b = Vec3::Zero();
  for (const int j : around) {
    const Vec3 d = s.mesh.points[j] - s.mesh.points[i], c = s.normals[j] - n;
    const double u = d.dot(e1), v = d.dot(e2);
    Eigen::Matrix<double, 2, 3> m;
    m << u, v, 0, 0, u, v;
    a += m.transpose() * m, b += m.transpose() * Eigen::Vector2d(c.dot(e1), c.dot(e2));
  }
  if (around.size() < 3) return {};
  const Vec3 x = a.ldlt().solve(b);
  Eigen::Matrix2d shape;
  shape << x[0], x[1], x[1], x[2];
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> own(-shape);
  const auto way = own.eigenvectors().col(1);
  return {own.eigenvalues()[1], way[0] * e1 + way[1] * e2};
}

/// The axis of the tool along which a radius runs, mostly: 0, 1 or 2. Those of a panel's sides then part at its corners.
int axis_of(const Vec3& along) {
  Eigen::Index axis = 0;
  along.cwiseAbs().maxCoeff(&axis);
  return static_cast<int>(axis);
}

/// Means of the nodes in steps along their longest extent.
std::vector<Vec3> middle_line(const Sheet& s, const std::vector<int>& nodes) {
  Vec3 mean = Vec3::Zero();
  for (const int i : nodes) mean += s.mesh.points[i] / double(nodes.size());
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const int i : nodes) {
    const Vec3 d = s.mesh.points[i] - mean;
    spread += d * d.transpose();
  }
  const Vec3 axis = Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(spread).eigenvectors().col(2);
  double low = 1e300, high = -1e300;
  for (const int i : nodes) {
    const double t = axis.dot(s.mesh.points[i] - mean);
    low = std::min(low, t), high = std::max(high, t);
  }
  const int steps = std::max(1, int((high - low) / (2 * std::max(s.edge_p50, 1e-9))));
  std::vector<Vec3> sum(steps, Vec3::Zero());
  std::vector<int> count(steps, 0);
  for (const int i : nodes) {
    const double t = (axis.dot(s.mesh.points[i] - mean) - low) / std::max(high - low, 1e-9);
    const int k = std::clamp(int(t * steps), 0, steps - 1);
    sum[k] += s.mesh.points[i], ++count[k];
  }
  std::vector<Vec3> out;
  for (int k = 0; k < steps; ++k)
    if (count[k]) out.push_back(sum[k] / count[k]);
  // The means of the last steps lie half a step inside.
  if (out.size() > 1) {
    const Vec3 first = out[0] - out[1], last = out.back() - out[out.size() - 2];
    out.front() += 0.5 * first, out.back() += 0.5 * last;
  }
  return out;
}

}  // namespace

std::vector<InsideRadius> find_radii(const Sheet& s, const RadiiSearch& search) {
  std::vector<InsideRadius> out;
  if (!search.on()) return out;
  const auto near = neighbours(s.mesh);
  const int n = static_cast<int>(s.size());
  std::vector<Bend> bends(n);
  std::vector<int> side(n, -1), set(n);
  std::iota(set.begin(), set.end(), 0);
  for (int i = 0; i < n; ++i) {
    if (s.rim[i] || is_masked(s, i)) continue;  // of a rim's node half of the neighbours are missing
    bends[i] = bend_at(s, near[i], i);
    if (bends[i].toward < 1 / search.largest) continue;
    side[i] = axis_of(s.normals[i].cross(bends[i].across));
  }
  for (int i = 0; i < n; ++i)
    for (const int j : near[i])
      if (side[i] >= 0 && side[i] == side[j]) join(set, i, j);
  std::vector<std::vector<int>> parts(n);
  for (int i = 0; i < n; ++i)
    if (side[i] >= 0) parts[root(set, i)].push_back(i);
  for (const auto& nodes : parts) {
    if (nodes.size() < 3) continue;
    InsideRadius r;
    r.path = middle_line(s, nodes), r.packing = search.packing;
    const double length = length_of(r);
    if (r.path.size() < 2 || length < kShortest * s.edge_p50) continue;
    double area = 0, turn = 0;
    for (const int i : nodes) area += s.area[i], turn += s.area[i] * bends[i].toward;
    r.turn = std::min(turn / length, 0.95 * M_PI);
    if (r.turn < search.least_turn) continue;
    const double seen = area / length, smear = kSmear * s.edge_p50;
    // Below half an edge nothing is known of it.
    r.radius = std::sqrt(std::max(std::pow(0.5 * s.edge_p50, 2), seen * seen - smear * smear)) / r.turn;
    if (r.radius > search.largest) continue;
    for (const RadiusPart& part : search.parts)
      if (part.where.contains(r.path[r.path.size() / 2])) {
        r.packing = part.packing;
        if (part.radius > 0) r.radius = part.radius;
      }
    out.push_back(std::move(r));
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return length_of(a) > length_of(b); });
  for (std::size_t k = 0; k < out.size(); ++k) out[k].name = "R" + std::to_string(k + 1);
  return out;
}

}  // namespace gapfront::laminate
