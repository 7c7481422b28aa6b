#include "scan/step_discs.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "core/cell_grid.hpp"
#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"

namespace gapfront::scan {
namespace {

// More points than these are averaged over cells: the search then takes as long for a large scan as for a small one.
constexpr std::size_t kMostPlanPoints = 60000;
// Twice a quadric's six coefficients and a jump.
constexpr std::size_t kFewestInDisc = 14;
// A disc whose points lie off its middle by more, of the radius, is cut by an edge of the face; one that rises by more
// holds a corner or another wall.
constexpr double kOffMiddle = 0.2, kRise = 0.25;
// Steeper walls (66°) hardly show in the plan, where lines are looked for.
constexpr double kLeastUp = 0.4;
// Scatter of so many times the usual is no smooth face.
constexpr double kRough = 1.5;
// Cells with a disc each: every point is in some eight discs.
constexpr double kDiscsApart = 0.6;
// A line near a disc's edge is taken by the quadric: of the points, the weight that says something (0.07 in the
// middle).
constexpr double kLeastWeight = 0.02;

using Matrix6X = Eigen::Matrix<double, 6, Eigen::Dynamic>;
/// Six orthonormal terms of a quadric, the residual, and one.
using PointRow = Eigen::Array<float, 8, 1>;

void jumps_across(const std::vector<PointRow>& rows, const std::vector<Eigen::Array2f>& plan, double angle, Jump* out) {
  const auto c = float(std::cos(angle)), s = float(std::sin(angle));
  std::array<PointRow, kShifts + 1> between;  // of the points between a shift and the next
  between.fill(PointRow::Zero());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const float off = c * plan[i].x() + s * plan[i].y() + float(kMiddle + 1);
    between[std::size_t(std::clamp(off, 0.0f, float(kShifts)))] += rows[i];
  }
  PointRow all = PointRow::Zero(), below = PointRow::Zero();
  for (const PointRow& b : between) all += b;
  for (int k = 0; k < kShifts; ++k) {
    below += between[std::size_t(k)];
    const PointRow side = 0.5f * all - below;  // half of what lies beyond, less half of what lies below
    const float weight = 0.25f * all[7] - side.head<6>().square().sum();
    if (weight > float(kLeastWeight) * all[7]) out[k] = {side[6], weight};
  }
}

/// The face's normal, upwards; the mean of the points off `middle`.
Vec3 normal_of(const std::vector<Vec3>& points, const std::vector<std::uint32_t>& near, const Vec3& middle,
               Vec3& mean) {
  mean.setZero();
  for (const auto i : near) mean += (points[i] - middle) / double(near.size());
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const auto i : near) spread += (points[i] - middle - mean) * (points[i] - middle - mean).transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame;
  frame.computeDirect(spread);
  const Vec3 n = frame.eigenvectors().col(0);
  return n.z() < 0 ? Vec3(-n) : n;
}

std::optional<Disc> disc_at(const std::vector<Vec3>& points, const cells::Grid& grid, const Vec3& middle, double radius,
                            std::vector<std::uint32_t>& near) {
  grid.around(middle, near);
  std::erase_if(near, [&](std::uint32_t i) { return (points[i] - middle).squaredNorm() > radius * radius; });
  if (near.size() < kFewestInDisc) return std::nullopt;
  Vec3 mean;
  const Vec3 n = normal_of(points, near, middle, mean);
  if (n.z() < kLeastUp || (mean - mean.dot(n) * n).norm() > kOffMiddle * radius) return std::nullopt;
  const Vec3 u = n.cross(Vec3::UnitX()).normalized(), v = n.cross(u);
  Disc d;
  d.at = middle + mean.dot(n) * n;
  const auto count = Eigen::Index(near.size());
  Matrix6X terms(6, count);
  Eigen::VectorXd rest(count);
  for (Eigen::Index k = 0; k < count; ++k) {
    const Vec3 p = points[near[std::size_t(k)]] - d.at;
    const double x = p.dot(u) / radius, y = p.dot(v) / radius;
    rest[k] = p.dot(n);
    if (std::abs(rest[k]) > kRise * radius) return std::nullopt;
    terms.col(k) << 1, x, y, x * x, x * y, y * y;
  }
  const Eigen::LLT<Eigen::Matrix<double, 6, 6>> root(terms * terms.transpose());
  if (root.info() != Eigen::Success) return std::nullopt;
  root.matrixL().solveInPlace(terms);
  rest -= terms.transpose() * (terms * rest);
  std::vector<PointRow> rows(near.size());
  std::vector<Eigen::Array2f> plan(near.size());
  for (Eigen::Index k = 0; k < count; ++k) {
    const std::size_t i = std::size_t(k);
    rows[i] << terms.col(k).cast<float>().array(), float(rest[k]), 1.0f;
    plan[i] = ((points[near[i]] - d.at).head<2>() / (kShift * radius)).cast<float>().array();
  }
  for (int k = 0; k < kDirections; ++k)
    jumps_across(rows, plan, std::numbers::pi * k / kDirections, &d.jumps[std::size_t(k) * kShifts]);
  // A step is not what makes a disc rough.
  double step = 0;
  for (const Jump& j : d.jumps)
    if (j.weight > 0) step = std::max(step, double(j.pull) * j.pull / j.weight);
  d.scatter = std::sqrt(std::max(0.0, rest.squaredNorm() - step) / (double(count) - 7));
  return d;
}

}  // namespace

PlanPoints in_plan(const std::vector<Vec3>& points, double spacing) {
  PlanPoints out;
  if (points.size() <= kMostPlanPoints) {
    out.at = points, out.spacing = spacing;
    out.count.assign(points.size(), 1);
  } else {
    out.spacing = spacing * std::sqrt(double(points.size()) / double(kMostPlanPoints));
    const cells::Grid grid(points, out.spacing);
    for (std::size_t c = 0; c < grid.cells(); ++c) {
      Vec3 sum = Vec3::Zero();
      for (const auto* i = grid.begin(c); i != grid.end(c); ++i) sum += points[*i];
      out.count.push_back(float(grid.end(c) - grid.begin(c)));
      out.at.push_back(sum / double(out.count.back()));
    }
  }
  for (const Vec3& p : out.at) out.mean += p / double(out.at.size());
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const Vec3& p : out.at) spread += (p - out.mean) * (p - out.mean).transpose();
  const auto frame = spectrum_of(spread);
  out.axes.col(0) = frame.eigenvectors().col(2), out.axes.col(1) = frame.eigenvectors().col(1);
  out.axes.col(2) = out.axes.col(0).cross(out.axes.col(1));
  for (Vec3& p : out.at) p = out.axes.transpose() * (p - out.mean);
  double low = 0, high = 0;
  for (const Vec3& p : out.at) low = std::min(low, p.x()), high = std::max(high, p.x());
  out.size = high - low;
  return out;
}

DiscLevel look_in_discs(const std::vector<Vec3>& points, double radius, std::size_t most) {
  const cells::Grid grid(points, radius), fine(points, kDiscsApart * radius);
  std::vector<std::optional<Disc>> at(std::min(most, fine.cells()));
  parallel_for(
      at.size(),
      [&](std::size_t k) {
        const std::size_t c = k * fine.cells() / at.size();
        std::vector<std::uint32_t> near;
        Vec3 mean = Vec3::Zero();
        for (const auto* i = fine.begin(c); i != fine.end(c); ++i) mean += points[*i];
        at[k] = disc_at(points, grid, mean / double(fine.end(c) - fine.begin(c)), radius, near);
      },
      16);
  DiscLevel out;
  out.radius = radius;
  std::vector<double> scatter;
  for (const auto& d : at)
    if (d) scatter.push_back(d->scatter);
  if (scatter.empty()) return out;
  out.scatter = median(std::move(scatter));
  for (const auto& d : at)
    if (d && d->scatter < kRough * out.scatter) out.discs.push_back(*d);
  return out;
}

}  // namespace gapfront::scan
