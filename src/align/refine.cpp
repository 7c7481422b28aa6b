// Robust refinement of a pose that is already near.
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>

#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/point_tree.hpp"
#include "core/rigid_motion.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront {
namespace {

constexpr double kNormalsAgree = 0.7071;  // cos 45°: across an edge or a thin rib lies another surface
// Geman–McClure with a width of twice the robust scale keeps 90 % efficiency on Gaussian noise (from memory) and gives
// an error of ten sigma a thousandth of the weight.
constexpr double kWidth = 2;
constexpr double kEdge = 0.25;  // see on_edge

/// A neighbourhood that lies on one side of its point (a half disc's centre of mass is 0.42 radii off) is an edge:
/// partners there stand for surface that was never measured.
std::vector<char> on_edge(const SurfacePoints& s, const PointTree& tree) {
  std::vector<char> edge(s.points.size(), 0);
  parallel_for(s.points.size(), [&](std::size_t i) {
    std::vector<std::uint32_t> index;
    std::vector<double> square;
    tree.nearest(s.points[i], 13, index, square);
    Vec3 mean = Vec3::Zero();
    for (auto k : index) mean += s.points[k] / index.size();
    mean -= s.points[i];
    mean -= s.normals[i] * s.normals[i].dot(mean);
    edge[i] = mean.squaredNorm() > kEdge * kEdge * square.back();
  });
  return edge;
}

struct Partner {
  double distance = 0;  // along the shared normal
  Vec3 normal = Vec3::Zero();
  int index = -1;
};

double robust_scale(const std::vector<Partner>& partners) {
  std::vector<double> d;
  for (const Partner& p : partners)
    if (p.index >= 0) d.push_back(std::abs(p.distance));
  return robust_sigma(std::move(d));
}

using Patches = std::map<std::array<int, 3>, Vector6>;

/// Form errors do not end at a patch's border: neighbours count together by half per axis, Bartlett's weights over
/// space (Conley 1999), which keep the sum positive. A form error half as wide as a patch would else lose a third.
Matrix6 sandwich(const Matrix6& bread, const Patches& patches) {
  Matrix6 meat = Matrix6::Zero();
  for (const auto& [key, g] : patches)
    for (int k = 0; k < 27; ++k) {
      const std::array<int, 3> step{k / 9 - 1, k / 3 % 3 - 1, k % 3 - 1};
      const auto near = patches.find({key[0] + step[0], key[1] + step[1], key[2] + step[2]});
      if (near == patches.end()) continue;
      const int axes = std::abs(step[0]) + std::abs(step[1]) + std::abs(step[2]);
      meat += std::ldexp(1.0, -axes) * g * near->second.transpose();
    }
  const double c = static_cast<double>(patches.size());
  // With few patches the scores are fitted away, six of them; below a dozen this is what can be said at all.
  return c / std::max(1.0, c - 6) * bread * meat * bread;
}

}  // namespace

struct PoseRefiner::Tree : PointTree {
  using PointTree::PointTree;
};

PoseRefiner::PoseRefiner(SurfacePoints fixed) : fixed_(std::move(fixed)) {
  if (fixed_.points.size() < 6) throw Error(Fault::measurement, "registration: fewer than 6 points to register on");
  tree_ = std::make_unique<Tree>(fixed_.points);
  edge_ = on_edge(fixed_, *tree_);
}
PoseRefiner::~PoseRefiner() = default;

Refined PoseRefiner::refine(const SurfacePoints& moving, const Rigid& start, const RefineOptions& options) const {
  Refined out;
  out.motion = start;
  const std::size_t n = moving.points.size();
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const Vec3& p : moving.points) {
    const Vec3 x = start * p;
    out.pivot += x / n;
    low = low.cwiseMin(x), high = high.cwiseMax(x);
  }
  const double size = (high - low).norm() / 2;
  const double min_reach = 2.5 * fixed_.spacing;  // below, points between the fixed ones would lose their partners
  double reach = options.reach > 0 ? options.reach : 5 * fixed_.spacing;
  std::vector<Partner> partners(n);
  Matrix6 normal;
  double scale = 0;

  const auto meet = [&] {
    parallel_for(
        n,
        [&](std::size_t i) {
          Partner& p = partners[i];
          p.index = -1;
          const Vec3 x = out.motion * moving.points[i];
          const auto [j, square] = tree_->nearest(x, reach);
          if (j < 0 || edge_[j]) return;
          const Vec3 own = out.motion.linear() * moving.normals[i];
          const double cosine = own.dot(fixed_.normals[j]);
          if (std::abs(cosine) < kNormalsAgree) return;
          p.normal = fixed_.normals[j];
          if (options.cost == PoseCost::plane_to_plane) p.normal = (p.normal + (cosine < 0 ? -own : own)).normalized();
          p.distance = p.normal.dot(fixed_.points[j] - x);
          p.index = j;
        },
        512);
    // Rounding keeps exact data from dividing by nothing; a millionth of the spacing is far below any scanner.
    scale = std::max(robust_scale(partners), 1e-6 * fixed_.spacing);
  };
  const auto weight = [&](std::size_t i) {
    const double e = partners[i].distance / (kWidth * scale);
    return moving.weights[i] / ((1 + e * e) * (1 + e * e));
  };
  const auto jacobian = [&](std::size_t i) {
    Vector6 j;
    j << partners[i].normal, (out.motion * moving.points[i] - out.pivot).cross(partners[i].normal);
    return j;
  };

  for (; out.iterations < options.iterations && !out.converged; ++out.iterations) {
    meet();
    normal.setZero();
    Vector6 rhs = Vector6::Zero();
    int used = 0;
    for (std::size_t i = 0; i < n; ++i) {
      if (partners[i].index < 0) continue;
      const Vector6 j = jacobian(i);
      const double w = weight(i);
      normal += w * j * j.transpose();
      rhs += w * partners[i].distance * j;
      ++used;
    }
    if (used < 6) break;
    // A free direction (a plane, a cylinder) stays where it is: its step is damped to nothing.
    Matrix6 damped = normal;
    Vector6 lever;
    lever << Vec3::Ones(), Vec3::Constant(size);
    for (int k = 0; k < 6; ++k) damped(k, k) += 1e-9 * normal.topLeftCorner<3, 3>().trace() * lever(k) * lever(k);
    const Vector6 step = solve_symmetric(damped, rhs);
    out.motion = small_motion(step, out.pivot) * out.motion;
    out.motion.linear() = Eigen::Quaterniond(out.motion.linear()).normalized().toRotationMatrix();
    const double moved = step.head<3>().norm() + size * step.tail<3>().norm();
    // Partners change in jumps; a thousandth of the scatter is far below what the result is good for.
    out.converged = reach <= min_reach && moved < std::max(1e-3 * scale, 1e-9 * fixed_.spacing);
    reach = std::max(min_reach, std::min(reach, std::max(0.8 * reach, 6 * moved)));
  }

  meet();
  normal.setZero();
  const double patch = options.patch > 0 ? options.patch : 2 * size / 12;
  Patches patches;
  double sum = 0, square = 0, found = 0, slope = 0;
  for (std::size_t i = 0; i < n; ++i) {
    if (partners[i].index < 0) continue;
    const Vector6 j = jacobian(i);
    const double w = weight(i);
    normal += w * j * j.transpose();
    const Vec3 cell = (out.motion * moving.points[i] - low) / patch;
    auto [at, fresh] = patches.try_emplace({int(cell.x()), int(cell.y()), int(cell.z())}, Vector6::Zero());
    at->second += w * partners[i].distance * j;
    // Slope of the pull: far residuals pull less the farther they are, so a moved pose is called back by less than w.
    const double e2 = std::pow(partners[i].distance / (kWidth * scale), 2);
    slope += moving.weights[i] * (1 - 3 * e2) / std::pow(1 + e2, 3);
    sum += w, square += w * partners[i].distance * partners[i].distance;
    found += 1;
  }
  out.overlap = n ? found / n : 0;
  out.rms = sum > 0 ? std::sqrt(square / sum) : 0;
  const Eigen::FullPivLU<Matrix6> solver(normal);
  if (solver.isInvertible()) {
    // Huber's bread is the slope; its mean stands for all places, and a tenth of the weights is the least that is
    // believed: below, hardly anything would hold the pose.
    const Matrix6 bread = solver.inverse() * (sum / std::max(slope, 0.1 * sum));
    out.covariance = sandwich(bread, patches);
    // Exact data leave nothing to learn from; then the noise of one patch in the mean is the floor.
    out.covariance += std::pow(1e-6 * fixed_.spacing, 2) * sum / std::max(1.0, found) * solver.inverse();
  }
  // How the surface alone holds each direction: what tells a free one.
  out.information = normal / std::max(scale * scale, 1e-300);
  return out;
}

}  // namespace gapfront
