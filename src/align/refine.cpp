// Robust refinement of a pose that is already near.
#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "align/supports.hpp"
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

struct Patch {
  Vector6 score = Vector6::Zero();
  Eigen::Matrix<double, 6, 3> pull = Eigen::Matrix<double, 6, 3>::Zero();  // on the pose, of one displacement of all
  Vec3 sum = Vec3::Zero();
  int points = 0;
  int index = 0;  // of its support
};
using Patches = std::map<std::array<int, 3>, Patch>;

/// Sum over pairs of patches of their `product`. Form errors do not end at a patch's border: neighbours count together
/// by half per axis, Bartlett's weights over space (Conley 1999), which keep the sum positive. A form error half as
/// wide as a patch would else lose a third.
template <class Product>
Matrix6 over_neighbours(const Patches& patches, const Product& product) {
  Matrix6 meat = Matrix6::Zero();
  for (const auto& [key, patch] : patches)
    for (int k = 0; k < 27; ++k) {
      const std::array<int, 3> step{k / 9 - 1, k / 3 % 3 - 1, k % 3 - 1};
      const auto near = patches.find({key[0] + step[0], key[1] + step[1], key[2] + step[2]});
      if (near == patches.end()) continue;
      const int axes = std::abs(step[0]) + std::abs(step[1]) + std::abs(step[2]);
      meat += std::ldexp(1.0, -axes) * product(patch, near->second);
    }
  return meat;
}

Matrix6 scatter_of(const Patches& patches) {
  return over_neighbours(patches,
                         [](const Patch& a, const Patch& b) -> Matrix6 { return a.score * b.score.transpose(); });
}

/// What errors that change along the moving points are expected to add to that scatter. A patch is displaced by the
/// field there and by the pose's answer to the field at all patches.
Matrix6 scatter_of_fields(const Patches& patches, const std::vector<Support>& supports, const align::Answer& answer,
                          const Vec3& pivot, const std::vector<SharedNoise>& fields) {
  return over_neighbours(patches, [&](const Patch& a, const Patch& b) -> Matrix6 {
    const auto i = std::size_t(a.index), j = std::size_t(b.index);
    const auto at = motion_jacobian(supports[i].at, pivot), near = motion_jacobian(supports[j].at, pivot);
    const Eigen::Matrix3d moved =
        align::covariance_between(fields, supports[i].at, supports[j].at) * Eigen::Matrix3d::Identity() +
        answer.with_places[i] * near.transpose() + at * answer.with_places[j].transpose() +
        at * answer.pose * near.transpose();
    return a.pull * moved * b.pull.transpose();
  });
}

/// The larger of two covariances in every direction: `least` where `a` says less.
Matrix6 at_least(const Matrix6& a, const Matrix6& least) {
  const Eigen::LLT<Matrix6> root(least);
  if (root.info() != Eigen::Success) return a;
  Matrix6 half = root.matrixL().solve(a);
  half = root.matrixL().solve(half.transpose().eval());
  const Eigen::SelfAdjointEigenSolver<Matrix6> parts(half);
  const Matrix6 back = root.matrixL() * parts.eigenvectors();
  return back * parts.eigenvalues().cwiseMax(1.0).asDiagonal() * back.transpose();
}

/// The fixed surface, with the points on its edge marked.
struct Fixed {
  const SurfacePoints& surface;
  const PointTree& tree;
  const std::vector<char>& edge;
};

/// What pulls the moving points at one pose: each one's partner on the fixed surface.
class Pairing {
 public:
  Pairing(const Fixed& fixed, const SurfacePoints& moving, PoseCost cost, const Vec3& pivot)
      : fixed_(fixed), moving_(moving), cost_(cost), pivot_(pivot), partners_(moving.points.size()) {}

  void meet(const Rigid& motion, double reach) {
    motion_ = motion;
    parallel_for(
        partners_.size(), [&](std::size_t i) { partners_[i] = partner_of(i, reach); }, 512);
    // Rounding keeps exact data from dividing by nothing; a millionth of the spacing is far below any scanner.
    scale_ = std::max(robust_scale(partners_), 1e-6 * fixed_.surface.spacing);
  }
  bool has(std::size_t i) const { return partners_[i].index >= 0; }
  double distance(std::size_t i) const { return partners_[i].distance; }
  double scale() const { return scale_; }
  double weight(std::size_t i) const {
    const double e = distance(i) / (kWidth * scale_);
    return moving_.weights[i] / ((1 + e * e) * (1 + e * e));
  }
  /// Slope of the pull: far residuals pull less the farther they are, so a moved pose is called back by less than the
  /// weight.
  double slope(std::size_t i) const {
    const double e2 = std::pow(distance(i) / (kWidth * scale_), 2);
    return moving_.weights[i] * (1 - 3 * e2) / std::pow(1 + e2, 3);
  }
  const Vec3& normal(std::size_t i) const { return partners_[i].normal; }
  Vector6 jacobian(std::size_t i) const {
    Vector6 j;
    j << partners_[i].normal, (motion_ * moving_.points[i] - pivot_).cross(partners_[i].normal);
    return j;
  }

 private:
  Partner partner_of(std::size_t i, double reach) const {
    Partner p;
    const Vec3 x = motion_ * moving_.points[i];
    const auto [j, square] = fixed_.tree.nearest(x, reach);
    if (j < 0 || fixed_.edge[j]) return p;
    const Vec3 own = motion_.linear() * moving_.normals[i];
    const double cosine = own.dot(fixed_.surface.normals[j]);
    if (std::abs(cosine) < kNormalsAgree) return p;
    p.normal = fixed_.surface.normals[j];
    if (cost_ == PoseCost::plane_to_plane) p.normal = (p.normal + (cosine < 0 ? -own : own)).normalized();
    p.distance = p.normal.dot(fixed_.surface.points[j] - x);
    p.index = j;
    return p;
  }

  const Fixed& fixed_;
  const SurfacePoints& moving_;
  PoseCost cost_;
  Vec3 pivot_;
  Rigid motion_ = Rigid::Identity();
  std::vector<Partner> partners_;
  double scale_ = 0;
};

/// Where the moving points are at the start.
struct Extent {
  Vec3 middle = Vec3::Zero(), low = Vec3::Constant(1e300), high = Vec3::Constant(-1e300);
  double size() const { return (high - low).norm() / 2; }
};

Extent extent_of(const SurfacePoints& moving, const Rigid& start) {
  Extent out;
  for (const Vec3& p : moving.points) {
    const Vec3 x = start * p;
    out.middle += x / moving.points.size();
    out.low = out.low.cwiseMin(x), out.high = out.high.cwiseMax(x);
  }
  return out;
}

/// The step that the pull asks for; nothing where too few points have partners.
std::optional<Vector6> gauss_newton_step(const Pairing& pairs, std::size_t n, double size) {
  Matrix6 normal = Matrix6::Zero();
  Vector6 rhs = Vector6::Zero();
  int used = 0;
  for (std::size_t i = 0; i < n; ++i) {
    if (!pairs.has(i)) continue;
    const Vector6 j = pairs.jacobian(i);
    const double w = pairs.weight(i);
    normal += w * j * j.transpose();
    rhs += w * pairs.distance(i) * j;
    ++used;
  }
  if (used < 6) return std::nullopt;
  // A free direction (a plane, a cylinder) stays where it is: its step is damped to nothing.
  Matrix6 damped = normal;
  Vector6 lever;
  lever << Vec3::Ones(), Vec3::Constant(size);
  for (int k = 0; k < 6; ++k) damped(k, k) += 1e-9 * normal.topLeftCorner<3, 3>().trace() * lever(k) * lever(k);
  return solve_symmetric(damped, rhs);
}

/// How well the pose is held, from the partners at it.
void add_uncertainty(Refined& out, const Pairing& pairs, const SurfacePoints& moving, const Vec3& low, double side,
                     double spacing, const std::vector<SharedNoise>& fields) {
  const std::size_t n = moving.points.size();
  Matrix6 normal = Matrix6::Zero(), alone = Matrix6::Zero();
  Patches patches;
  double sum = 0, square = 0, found = 0, slope = 0;
  for (std::size_t i = 0; i < n; ++i) {
    if (!pairs.has(i)) continue;
    const Vector6 j = pairs.jacobian(i);
    const double w = pairs.weight(i);
    normal += w * j * j.transpose();
    alone += std::pow(w * pairs.distance(i), 2) * j * j.transpose();
    const Vec3 place = out.motion * moving.points[i], cell = (place - low) / side;
    Patch& patch = patches[{int(cell.x()), int(cell.y()), int(cell.z())}];
    patch.score += w * pairs.distance(i) * j;
    patch.pull += w * j * pairs.normal(i).transpose();
    patch.sum += place, ++patch.points;
    slope += pairs.slope(i);
    sum += w, square += w * pairs.distance(i) * pairs.distance(i);
    found += 1;
  }
  out.overlap = n ? found / n : 0;
  out.rms = sum > 0 ? std::sqrt(square / sum) : 0;
  if (const auto inverse = inverse_if_any(normal)) {
    // Huber's bread is the slope; its mean stands for all places, and a tenth of the weights is the least that is
    // believed: below, hardly anything would hold the pose.
    const Matrix6 bread = *inverse * (sum / std::max(slope, 0.1 * sum));
    for (auto& [key, patch] : patches) {
      patch.index = int(out.supports.size());
      out.supports.push_back({patch.sum / patch.points, -*inverse * patch.pull});
    }
    Matrix6 meat = scatter_of(patches);
    if (!fields.empty()) {
      const align::Answer answer = align::answer_to_fields(out.supports, fields);
      meat -= scatter_of_fields(patches, out.supports, answer, out.pivot, fields);
      out.by_fields = answer.pose;
    }
    // With few patches the scores are fitted away, six of them; below a dozen this is what can be said at all.
    const double c = static_cast<double>(patches.size());
    out.covariance = c / std::max(1.0, c - 6) * bread * meat * bread;
    // What scatters less than was expected of the fields is as sure as points of their own make it, and no surer.
    if (!fields.empty()) out.covariance = at_least(out.covariance, bread * alone * bread);
    // Exact data leave nothing to learn from; then the noise of one patch in the mean is the floor.
    out.covariance += std::pow(1e-6 * spacing, 2) * sum / std::max(1.0, found) * *inverse;
  }
  // How the surface alone holds each direction: what tells a free one.
  out.information = normal / std::max(pairs.scale() * pairs.scale(), 1e-300);
}

}  // namespace

struct PoseRefiner::Tree : PointTree {
  using PointTree::PointTree;
};

PoseRefiner::PoseRefiner(SurfacePoints fixed) : fixed_(std::move(fixed)) {
  if (fixed_.points.size() < 6)
    throw Error(
        Fault::measurement,
        "registration: fewer than 6 points to register on; scan more of the datum faces, or widen their regions");
  tree_ = std::make_unique<Tree>(fixed_.points);
  edge_ = on_edge(fixed_, *tree_);
}
PoseRefiner::~PoseRefiner() = default;

Refined PoseRefiner::refine(const SurfacePoints& moving, const Rigid& start, const RefineOptions& options) const {
  const Extent extent = extent_of(moving, start);
  const double size = extent.size();
  const double min_reach = 2.5 * fixed_.spacing;  // below, points between the fixed ones would lose their partners
  double reach = options.reach > 0 ? options.reach : 5 * fixed_.spacing;
  Refined out;
  out.motion = start, out.pivot = extent.middle;
  const Fixed fixed{fixed_, *tree_, edge_};
  Pairing pairs(fixed, moving, options.cost, out.pivot);
  for (; out.iterations < options.iterations && !out.converged; ++out.iterations) {
    pairs.meet(out.motion, reach);
    const auto step = gauss_newton_step(pairs, moving.points.size(), size);
    if (!step) break;
    out.motion = small_motion(*step, out.pivot) * out.motion;
    out.motion.linear() = Eigen::Quaterniond(out.motion.linear()).normalized().toRotationMatrix();
    const double moved = step->head<3>().norm() + size * step->tail<3>().norm();
    // Partners change in jumps; a thousandth of the scatter is far below what the result is good for.
    out.converged = reach <= min_reach && moved < std::max(1e-3 * pairs.scale(), 1e-9 * fixed_.spacing);
    reach = std::max(min_reach, std::min(reach, std::max(0.8 * reach, 6 * moved)));
  }
  pairs.meet(out.motion, reach);
  add_uncertainty(out, pairs, moving, extent.low, options.patch > 0 ? options.patch : 2 * size / 12, fixed_.spacing,
                  options.fields);
  return out;
}

}  // namespace gapfront
