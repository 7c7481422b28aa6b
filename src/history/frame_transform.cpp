#include "history/frame_transform.hpp"

#include <cmath>

#include "core/linear.hpp"
#include "core/rigid_motion.hpp"

namespace gapfront::history {
namespace {

// Rounding of a 6×6 normal matrix in comparable units: a direction that is held a millionth as well as the best is
// free.
constexpr double kFree = 1e-12;

/// Slope of the gap along the sheet at every node: the mean over the triangles around it, by area.
std::vector<Vec3> slopes(const Sheet& sheet, const GapMap& gap) {
  std::vector<Vec3> sum(sheet.size(), Vec3::Zero());
  std::vector<double> area(sheet.size(), 0);
  for (const auto& t : sheet.mesh.triangles) {
    const auto measured = [&](int k) { return gap.nodes[k].measured; };
    if (!measured(t[0]) || !measured(t[1]) || !measured(t[2])) continue;
    const Vec3 &p = sheet.mesh.points[t[0]], a = sheet.mesh.points[t[1]] - p, b = sheet.mesh.points[t[2]] - p;
    const Vec3 n = a.cross(b);
    if (n.squaredNorm() == 0) continue;
    const double ga = gap.nodes[t[1]].gap - gap.nodes[t[0]].gap, gb = gap.nodes[t[2]].gap - gap.nodes[t[0]].gap;
    const Vec3 slope = (ga * b.cross(n) + gb * n.cross(a)) / n.squaredNorm();
    for (const int k : t) sum[k] += n.norm() * slope, area[k] += n.norm();
  }
  for (std::size_t i = 0; i < sum.size(); ++i)
    if (area[i] > 0) sum[i] /= area[i];
  return sum;
}

/// Inverse of the information; nothing when it leaves a direction free.
bool invert(const Matrix6& information, double size, Matrix6& out) {
  Vector6 lever;
  lever << Vec3::Ones(), Vec3::Constant(1 / size);  // turns count by what they move at the rim
  const auto solver = spectrum_of(Matrix6(lever.asDiagonal() * information * lever.asDiagonal()));
  const Vector6& e = solver.eigenvalues();
  if (!(e[0] > kFree * e[5])) return false;
  const Matrix6 v = lever.asDiagonal() * solver.eigenvectors();
  out = v * e.cwiseInverse().asDiagonal() * v.transpose();
  return true;
}

}  // namespace

double FrameTransform::u(const Weights& weights) const {
  Vector6 row = Vector6::Zero();
  for (const auto& [i, h] : weights) row += h * rows[i];
  return std::sqrt(std::max(0.0, row.dot(covariance * row)));
}

Weights by_node(const std::vector<double>& h) {
  Weights out;
  for (std::size_t i = 0; i < h.size(); ++i)
    if (h[i] != 0) out.push_back({static_cast<int>(i), h[i]});
  return out;
}

FrameTransform frame_transform(const Sheet& sheet, const Record& now, const Record& then) {
  FrameTransform out;
  std::vector<Pair> pairs;
  for (const DatumPlace& a : then.datums)
    for (const DatumPlace& b : now.datums)
      if (a.name == b.name) {
        const double ua = std::max(kLeastU, a.u_lower), ub = std::max(kLeastU, b.u_lower);
        pairs.push_back(
            {b.lower, a.lower, ub * ub * Eigen::Matrix3d::Identity(), ua * ua * Eigen::Matrix3d::Identity()});
      }
  if (pairs.size() >= 3) {
    const PairFit fit = fit_pairs(pairs);
    double size = 0;
    for (const Pair& p : pairs) size = std::max(size, (p.to - fit.pivot).norm());
    if (size > 0 && invert(fit.information, size, out.covariance))
      out.targets = static_cast<int>(pairs.size()), out.pivot = fit.pivot;
  }
  if (out.targets == 0) {
    out.pivot = then.gap.pivot;
    out.covariance = then.gap.registration + move_pivot(now.gap.registration, now.gap.pivot, then.gap.pivot);
  }
  const auto slope = slopes(sheet, then.gap);
  for (std::size_t i = 0; i < sheet.size(); ++i)
    out.rows.push_back(-motion_jacobian(sheet.mesh.points[i], out.pivot).transpose() * slope[i]);
  return out;
}

}  // namespace gapfront::history
