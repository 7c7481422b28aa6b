// Thinning, normals, their orientation, and the sizing field.
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <queue>
#include <tuple>
#include "cavity/fill.hpp"
#include "cavity/reconstruct.hpp"
#include "cavity/surface_reader.hpp"
#include "cavity/thin_scan.hpp"
#include "core/cell_grid.hpp"
#include "core/parallel.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

/// One point of the scan per voxel: the one nearest to the mean of its voxel. Averages would sit inside curves.
std::vector<Vec3> thin(const std::vector<Vec3>& points, double voxel) {
  const cells::Grid grid(points, voxel);
  std::vector<Vec3> out(grid.cells());
  parallel_for(out.size(), [&](std::size_t c) {
    Vec3 mean = Vec3::Zero();
    for (const auto* i = grid.begin(c); i != grid.end(c); ++i) mean += points[*i];
    mean /= double(grid.end(c) - grid.begin(c));
    out[c] = points[*std::min_element(grid.begin(c), grid.end(c), [&](auto a, auto b) {
      return (points[a] - mean).squaredNorm() < (points[b] - mean).squaredNorm();
    })];
  });
  return out;
}

/// Normal of the weighted plane through the scan near p; zero without a plane.
Vec3 plane_normal(const Surface& scan, const Vec3& p, double radius, std::array<std::vector<float>, 3>& near) {
  // A plane wants three points; six keep a line of points from passing as one.
  std::size_t count = 0;
  for (int attempt = 0; attempt < 2 && count < 6; ++attempt) {
    if (attempt > 0) radius *= 1.5;
    count = SurfaceReader::offsets_within(scan, p, radius, near);
  }
  if (count < 6) return Vec3::Zero();
  Vec3 mean = Vec3::Zero();
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  double sum = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const Vec3 d(near[0][i], near[1][i], near[2][i]);
    const double w = std::exp(-3 * d.squaredNorm() / (radius * radius));
    mean += w * d, sum += w;
    c += w * d * d.transpose();
  }
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver;
  solver.computeDirect(c - mean * mean.transpose() / sum);
  return solver.eigenvectors().col(0);
}

struct Link {
  float weight;
  int a, b;
  char flip;
};

/// Normals of neighbours must agree after the mirror that carries one point to the other (König & Gumhold 2009):
/// exact on circles, so that a 90° corner and the two walls of a thin rib come out right as well.
Link link_of(const std::vector<Vec3>& p, const std::vector<Vec3>& n, int a, int b) {
  const Vec3 d = (p[b] - p[a]).normalized();
  const Vec3 mirrored = n[a] - 2 * n[a].dot(d) * d;
  const double agree = n[b].dot(mirrored);
  const double rise = std::max(std::abs(n[a].dot(d)), std::abs(n[b].dot(d)));
  // Steps along the surface are trusted before steps across it.
  return {float(1 - std::abs(agree) + 0.5 * rise * rise), a, b, char(agree < 0)};
}

/// Union–find that also keeps each member's sign relative to its root.
struct SignedSets {
  std::vector<int> parent;
  std::vector<char> flip;
  explicit SignedSets(std::size_t n) : parent(n), flip(n, 0) { std::iota(parent.begin(), parent.end(), 0); }
  std::pair<int, char> find(int i) {
    int root = i;
    char sign = 0;
    while (parent[root] != root) sign ^= flip[root], root = parent[root];
    for (char s = sign; parent[i] != i;) {
      const int next = parent[i];
      const char own = flip[i];
      parent[i] = root, flip[i] = s;
      s ^= own, i = next;
    }
    return {root, sign};
  }
};

std::vector<std::vector<int>> neighbours(const Surface& tree, double radius, std::size_t most) {
  std::vector<std::vector<int>> out(tree.points().size());
  parallel_for(out.size(), [&](std::size_t i) {
    auto near = tree.within(tree.points()[i], radius);
    for (int j : near)
      if (j != int(i) && out[i].size() < most) out[i].push_back(j);
  });
  return out;
}

/// Minimum spanning forest of the links (Hoppe et al. 1992); each tree's sign by majority towards the upper half.
void orient(const Surface& tree, const std::vector<std::vector<int>>& graph, const Surface& upper,
            std::vector<Vec3>& normals) {
  const auto& p = tree.points();
  std::vector<Link> links;
  for (int i = 0; i < int(p.size()); ++i)
    for (int j : graph[i])
      if (i < j || std::find(graph[j].begin(), graph[j].end(), i) == graph[j].end())
        links.push_back(link_of(p, normals, i, j));
  std::sort(links.begin(), links.end(),
            [](const Link& x, const Link& y) { return std::tie(x.weight, x.a, x.b) < std::tie(y.weight, y.a, y.b); });
  SignedSets sets(p.size());
  for (const Link& l : links) {
    const auto [ra, sa] = sets.find(l.a);
    const auto [rb, sb] = sets.find(l.b);
    if (ra == rb) continue;
    sets.parent[std::max(ra, rb)] = std::min(ra, rb);
    sets.flip[std::max(ra, rb)] = sa ^ sb ^ l.flip;
  }
  std::vector<double> lean(p.size()), vote(p.size(), 0);
  parallel_for(p.size(),
               [&](std::size_t i) { lean[i] = normals[i].dot((upper.nearest(p[i]).point - p[i]).normalized()); });
  for (int i = 0; i < int(p.size()); ++i) {
    const auto [root, sign] = sets.find(i);
    vote[root] += sign ? -lean[i] : lean[i];
  }
  for (int i = 0; i < int(p.size()); ++i) {
    const auto [root, sign] = sets.find(i);
    if ((vote[root] < 0) != bool(sign)) normals[i] = -normals[i];
  }
}

/// Greatest curvature at sample i: normals of neighbours turn with distance (least squares of dn on dx, 2 × 2).
double bend_at(const Samples& s, int i, const std::vector<int>& near) {
  const Vec3& n = s.normals[i];
  const Vec3 u = n.unitOrthogonal(), v = n.cross(u);
  Eigen::Matrix2d a = Eigen::Matrix2d::Zero(), b = Eigen::Matrix2d::Zero();
  for (int j : near) {
    if (s.normals[j].dot(n) < 0) continue;
    const Vec3 dp = s.tree.points()[j] - s.tree.points()[i], dn = s.normals[j] - n;
    const Eigen::Vector2d x(dp.dot(u), dp.dot(v)), y(dn.dot(u), dn.dot(v));
    a += x * x.transpose(), b += x * y.transpose();
  }
  // Neighbours on one scan line tell the bend along it; a tenth as wide as long, they give noise for the one across.
  if (a.determinant() < 0.01 * a.trace() * a.trace()) {
    Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> spread;
    spread.computeDirect(a);
    const Eigen::Vector2d along = spread.eigenvectors().col(1);
    return a.trace() > 0 ? std::abs(along.dot(b * along)) / a.trace() : 0;
  }
  const Eigen::Matrix2d k = a.inverse() * b;
  const Eigen::Matrix2d even = 0.5 * (k + k.transpose());
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> solver;
  solver.computeDirect(even, Eigen::EigenvaluesOnly);
  return solver.eigenvalues().cwiseAbs().maxCoeff();
}

/// Edge length wanted grows by at most 0.3 per mm: neighbouring triangles then differ by under a third in size,
/// which keeps angles away from slivers.
void grade(Samples& s, const std::vector<std::vector<int>>& graph, double edge) {
  constexpr double slope = 0.3;
  using Entry = std::pair<double, int>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  for (int i = 0; i < int(s.size.size()); ++i)
    if (s.size[i] < edge) queue.push({s.size[i], i});
  while (!queue.empty()) {
    const auto [size, i] = queue.top();
    queue.pop();
    if (size > s.size[i]) continue;
    for (int j : graph[i]) {
      const double limit = size + slope * (s.tree.points()[i] - s.tree.points()[j]).norm();
      if (limit < s.size[j]) s.size[j] = limit, queue.push({limit, j});
    }
  }
}

}  // namespace

Samples joined(const Samples& s, const std::vector<Vec3>& points, const std::vector<Vec3>& normals,
               const std::vector<double>& size, const std::vector<double>& bend, double edge) {
  std::vector<Vec3> all = s.tree.points();
  all.insert(all.end(), points.begin(), points.end());
  Samples out{Surface(std::move(all), {.spacing = s.pitch, .noise = s.tree.noise()}),
              s.normals,
              s.size,
              s.bend,
              s.cell,
              s.pitch};
  out.normals.insert(out.normals.end(), normals.begin(), normals.end());
  out.size.insert(out.size.end(), size.begin(), size.end());
  out.bend.insert(out.bend.end(), bend.begin(), bend.end());
  grade(out, neighbours(out.tree, 2.2 * out.pitch, 10), edge);
  return out;
}

Samples sample_face(const Surface& lower, const Surface& upper, const SheetOptions& o, const SealLine& seal) {
  double cell = std::max(lower.spacing(), 0.75 * o.min_edge);
  // A band of surface beyond the seal line, so that the clip there sees a surface and not its ragged end.
  const double margin = std::max(o.edge, 6 * cell);
  Vec3 low = Vec3::Constant(-1e300), high = Vec3::Constant(1e300);
  if (seal.closed()) {
    low.head<2>().setConstant(1e300), high.head<2>().setConstant(-1e300);
    for (const Vec3& p : o.seal)
      for (int k = 0; k < 2; ++k) low[k] = std::min(low[k], p[k] - margin), high[k] = std::max(high[k], p[k] + margin);
  }
  std::vector<Vec3> chosen;
  for (const Vec3& p : lower.points())
    if ((p.array() >= low.array()).all() && (p.array() <= high.array()).all()) chosen.push_back(p);
  // About a million samples keep time and memory of the reconstruction within a few seconds and one GB;
  // a face that would need more is described on a coarser grid.
  std::vector<Vec3> kept = thin(chosen, 0.7 * cell);
  while (kept.size() > 1'000'000) kept = thin(chosen, 0.7 * (cell *= 1.3));
  chosen = {};
  if (!seal.empty()) {
    std::vector<char> keep(kept.size());
    parallel_for(kept.size(), [&](std::size_t i) { keep[i] = seal.signed_distance(kept[i]) < margin; });
    std::size_t n = 0;
    for (std::size_t i = 0; i < kept.size(); ++i)
      if (keep[i]) kept[n++] = kept[i];
    kept.resize(n);
  }
  std::vector<Vec3> normals(kept.size());
  const double radius = std::max(2.0 * lower.spacing(), 0.8 * cell);
  parallel_for(kept.size(), [&](std::size_t i) {
    thread_local std::array<std::vector<float>, 3> near;
    normals[i] = plane_normal(lower, kept[i], radius, near);
  });
  std::size_t n = 0;
  for (std::size_t i = 0; i < kept.size(); ++i)
    if (normals[i].squaredNorm() > 0.5) kept[n] = kept[i], normals[n++] = normals[i];
  kept.resize(n), normals.resize(n);
  std::size_t inside = 0;
  for (const Vec3& p : kept) inside += seal.inside(p);
  if (inside < 50) {  // fewer than a dozen triangles could be described
    refuse_thin_scan(lower, o, seal);
    throw Error(Fault::measurement,
                !seal.closed() ? "sheet: the lower scan has too few points for a surface; scan it again"
                               : "sheet: the lower scan has no surface inside the seal line; check cavity.seal "
                                 "against the tool frame and its units");
  }
  const double pitch = std::max(lower.spacing(), 0.8 * cell);
  Samples s{
      Surface(std::move(kept), {.spacing = pitch, .noise = lower.noise()}), std::move(normals), {}, {}, cell, pitch};
  const auto graph = neighbours(s.tree, 2.2 * pitch, 10);
  orient(s.tree, graph, upper, s.normals);
  s.size.resize(n), s.bend.resize(n);
  parallel_for(n, [&](std::size_t i) {
    s.bend[i] = bend_at(s, int(i), graph[i]);
    s.size[i] = std::clamp(1 / (3 * std::max(s.bend[i], 1e-9)), o.min_edge, o.edge);
    // Beyond the seal line (the foot of a ball, the edge of the flange) nothing asks for nodes.
    if (s.size[i] < o.edge && seal.closed() && seal.signed_distance(s.tree.points()[i]) > 2 * pitch) s.size[i] = o.edge;
  });
  grade(s, graph, o.edge);
  // Where no radius asks for the finest edge, the grid need not hold one. A radius worth describing shows in some
  // thirty samples (1.5 mm over 10 mm of its length), noise in fewer; three cells are needed beyond the seal line.
  // Without a seal line the grid also shows where the scan ends, and must not be coarser than its points.
  if (!seal.closed()) return s;
  auto sorted = s.size;
  const auto tightest = sorted.begin() + std::min<std::ptrdiff_t>(30, std::ptrdiff_t(n) - 1);
  std::nth_element(sorted.begin(), tightest, sorted.end());
  s.cell = std::max(s.cell, std::min(0.75 * *tightest, margin / 3));
  return s;
}

}  // namespace gapfront::cavity
