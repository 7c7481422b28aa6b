#include "cavity/seal_plane.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>

#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::cavity {
namespace {

constexpr int kPlaneDraws = 150;         // with a flange of a tenth of the points the chance to miss it is below 1e-6
constexpr double kLeastFraction = 0.04;  // of the scan's area: a land narrower than that is an edge, not a flange
constexpr double kSamePlane = 0.97;      // cosine of 14°: normals of thinned points err by a few degrees
constexpr std::size_t kMostPoints = 2'000'000;  // more say no more about heights a cell wide

double scan_size(const std::vector<Vec3>& points) {
  Vec3 low = points.front(), high = low;
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return (high - low).norm();
}

struct Candidate {
  Vec3 at = Vec3::Zero(), n = Vec3::UnitZ();
  double reach = 0;  ///< root of the determinant of the plan covariance of its points: how far round they lie, mm²
  std::size_t count = 0;
};

Candidate candidate_from(const SurfacePoints& s, Vec3 at, Vec3 n, double tolerance) {
  Candidate c;
  for (int round = 0; round < 4; ++round) {
    Vec3 mean = Vec3::Zero();
    std::size_t count = 0;
    const auto on = [&](std::size_t i) {
      return std::abs(n.dot(s.points[i] - at)) < tolerance && std::abs(n.dot(s.normals[i])) > kSamePlane;
    };
    for (std::size_t i = 0; i < s.points.size(); ++i)
      if (on(i)) mean += s.points[i], ++count;
    if (count < 30) return {};
    mean /= double(count);
    Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
    for (std::size_t i = 0; i < s.points.size(); ++i)
      if (on(i)) scatter += (s.points[i] - mean) * (s.points[i] - mean).transpose() / double(count);
    const auto axes = spectrum_of(scatter);
    at = mean, n = axes.eigenvectors().col(0);
    c = {at, n, std::sqrt(std::max(0.0, axes.eigenvalues()(1) * axes.eigenvalues()(2))), count};
  }
  return c;
}

}  // namespace

std::optional<FlangeFrame> find_flange(const Surface& lower, const Surface& upper) {
  if (lower.points().size() < 200 || upper.points().size() < 200) return {};
  const double size = scan_size(lower.points());
  // 150 places across: a flange a twentieth of the size wide is then seven of them wide.
  const SurfacePoints s = align::thin_surface(lower.points(), std::max(2 * lower.spacing(), size / 150));
  // A flange of a real tool is out of flat by some tenths of a millimetre per half metre.
  const double tolerance = std::max(6 * lower.noise(), 1e-3 * size);
  std::mt19937 random(20261128);  // any fixed seed: the same scan gives the same plane
  Candidate best;
  for (int k = 0; k < kPlaneDraws; ++k) {
    const std::size_t i = random() % s.points.size();
    const Candidate c = candidate_from(s, s.points[i], s.normals[i], tolerance);
    if (c.count < kLeastFraction * s.points.size()) continue;
    if (c.reach > best.reach) best = c;
  }
  if (best.count == 0) return {};
  FlangeFrame f;
  f.at = best.at, f.n = best.n, f.tolerance = tolerance;
  double side = 0;
  for (std::size_t i = 0; i < s.points.size(); i += 3) side += f.n.dot(upper.nearest(s.points[i]).point - s.points[i]);
  if (side < 0) f.n = -f.n;
  // Along X as nearly as may be, so that a grid in the tool frame is in line with it.
  const Vec3 along = std::abs(f.n.x()) < 0.9 ? Vec3::UnitX() : Vec3::UnitY();
  f.e1 = (along - f.n * f.n.dot(along)).normalized();
  f.e2 = f.n.cross(f.e1);
  return f;
}

namespace {

/// Points by grid cell, as runs in one list.
struct Bins {
  std::vector<std::uint32_t> start, index;
};

Bins sort_into(const PlanGrid& g, const std::vector<Vec3>& local) {
  const auto cell = [&](const Vec3& p) {
    const int i = std::clamp(int(std::lround((p.x() - g.u0) / g.cell)), 0, g.nu - 1);
    const int j = std::clamp(int(std::lround((p.y() - g.v0) / g.cell)), 0, g.nv - 1);
    return g.at(i, j);
  };
  Bins b;
  b.start.assign(std::size_t(g.size()) + 1, 0);
  for (const Vec3& p : local) ++b.start[std::size_t(cell(p)) + 1];
  std::partial_sum(b.start.begin(), b.start.end(), b.start.begin());
  b.index.resize(local.size());
  auto next = b.start;
  for (std::size_t k = 0; k < local.size(); ++k) b.index[next[std::size_t(cell(local[k]))]++] = std::uint32_t(k);
  return b;
}

/// Height of the local plane at a node; NaN with too few points.
double height_at(const PlanGrid& g, const Bins& b, const std::vector<Vec3>& local, int node) {
  const int i = node % g.nu, j = node / g.nu;
  const double reach = 1.5 * g.cell;
  Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
  Vec3 rhs = Vec3::Zero();
  int used = 0;
  for (int dj = -2; dj <= 2; ++dj)
    for (int di = -2; di <= 2; ++di) {
      if (i + di < 0 || j + dj < 0 || i + di >= g.nu || j + dj >= g.nv) continue;
      const auto k = std::size_t(g.at(i + di, j + dj));
      for (auto at = b.start[k]; at < b.start[k + 1]; ++at) {
        const Vec3& p = local[b.index[at]];
        const double x = p.x() - g.u(node), y = p.y() - g.v(node), d2 = (x * x + y * y) / (reach * reach);
        if (d2 >= 1) continue;
        const double w = (1 - d2) * (1 - d2);
        const Vec3 row(1, x, y);
        a += w * row * row.transpose(), rhs += w * p.z() * row;
        ++used;
      }
    }
  if (used < 4) return NAN;
  const Eigen::FullPivLU<Eigen::Matrix3d> lu(a);
  // Points on one side only would be extrapolated: then their mean says as much.
  return lu.rcond() > 1e-4 ? lu.solve(rhs)(0) : rhs(0) / a(0, 0);
}

}  // namespace

void bridge(const PlanGrid& g, std::vector<double>& value, const std::vector<char>& known,
            const std::vector<char>& outside) {
  std::vector<int> open;
  double sum = 0;
  int count = 0;
  for (int k = 0; k < g.size(); ++k)
    if (known[k])
      sum += value[k], ++count;
    else if (!outside[k])
      open.push_back(k);
  for (int k : open) value[k] = count ? sum / count : 0;
  // Gauss–Seidel in a fixed order; a hole twenty cells wide settles to a hundredth within this many rounds.
  for (int round = 0; round < 400; ++round)
    for (int k : open) {
      const int i = k % g.nu, j = k / g.nu;
      double s = 0;
      int n = 0;
      for (const auto& [di, dj] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
        if (i + di < 0 || j + dj < 0 || i + di >= g.nu || j + dj >= g.nv) continue;
        const int m = g.at(i + di, j + dj);
        if (outside[m]) continue;
        s += value[m], ++n;
      }
      if (n) value[k] = s / n;
    }
}

PlanHeights plan_heights(const Surface& lower, const FlangeFrame& f, const std::vector<Mask>& masks) {
  const std::vector<Vec3>& points = lower.points();
  const std::size_t step = 1 + points.size() / kMostPoints;
  std::vector<Vec3> local;
  local.reserve(points.size() / step + 1);
  for (std::size_t i = 0; i < points.size(); i += step) {
    const auto masked = [&](const Mask& m) { return (points[i] - m.centre).squaredNorm() < m.radius * m.radius; };
    if (std::none_of(masks.begin(), masks.end(), masked)) local.push_back(f.local(points[i]));
  }
  PlanHeights out;
  if (local.empty()) return out;
  Vec3 low = local.front(), high = low;
  for (const Vec3& p : local) low = low.cwiseMin(p), high = high.cwiseMax(p);
  PlanGrid& g = out.grid;
  const double size = (high - low).head<2>().norm();
  g.cell = std::clamp(2 * lower.spacing() * std::sqrt(double(step)), size / 400, std::max(size / 60, size / 400));
  // Two cells of margin, so that the edge of the scan never is the edge of the grid.
  g.u0 = low.x() - 2 * g.cell, g.v0 = low.y() - 2 * g.cell;
  g.nu = int((high.x() - low.x()) / g.cell) + 5, g.nv = int((high.y() - low.y()) / g.cell) + 5;
  const Bins bins = sort_into(g, local);
  out.height.assign(std::size_t(g.size()), 0);
  out.seen.assign(std::size_t(g.size()), 0);
  parallel_for(std::size_t(g.size()), [&](std::size_t k) {
    const double h = height_at(g, bins, local, int(k));
    if (std::isfinite(h)) out.height[k] = h, out.seen[k] = 1;
  });
  // Beyond the scan: what is not seen and hangs together with the grid's edge.
  out.outside.assign(std::size_t(g.size()), 0);
  std::vector<int> stack;
  const auto visit = [&](int i, int j) {
    if (i < 0 || j < 0 || i >= g.nu || j >= g.nv) return;
    const int k = g.at(i, j);
    if (!out.seen[k] && !out.outside[k]) out.outside[k] = 1, stack.push_back(k);
  };
  for (int i = 0; i < g.nu; ++i) visit(i, 0), visit(i, g.nv - 1);
  for (int j = 0; j < g.nv; ++j) visit(0, j), visit(g.nu - 1, j);
  while (!stack.empty()) {
    const int k = stack.back(), i = k % g.nu, j = k / g.nu;
    stack.pop_back();
    visit(i + 1, j), visit(i - 1, j), visit(i, j + 1), visit(i, j - 1);
  }
  bridge(g, out.height, out.seen, out.outside);
  return out;
}

}  // namespace gapfront::cavity
