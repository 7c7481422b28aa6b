// Best-fit rigid motion of a deviation, robust against local defects.
#include "gapfront/rigid_part.hpp"

#include <cmath>
#include "core/area_mean.hpp"
#include "core/linear.hpp"
#include "core/statistics.hpp"

namespace gapfront {
namespace {

// Tukey's biweight with 4.685 σ keeps 95 % efficiency on Gaussian noise (Beaton & Tukey 1974).
constexpr double kTukey = 4.685;
// The weights settle within about ten passes; twenty from the L1 start and twenty of Tukey leave a margin.
constexpr int kPasses = 20;
// A spread below 0.1 µm is beyond any scan; the floor keeps the weights defined on noise-free data.
constexpr double kLeastSigma = 1e-4;
// The halves close along tool Z when the mean gap direction is within 30° of it (cos 30°); tilts are then about X and
// Y.
constexpr double kAlongZ = 0.866;
// A parameter is dropped when the sheet says nothing about it: its share of the trace is below rounding.
constexpr double kRankTolerance = 1e-9;

bool used(const GapMap& gap, const std::vector<double>& d, std::size_t i) {
  return gap.nodes[i].measured && std::isfinite(d[i]);
}

void choose_frame(RigidFit& fit, const Sheet& sheet, const GapMap& gap, const std::vector<double>& d) {
  Vec3 direction = Vec3::Zero(), centre = Vec3::Zero();
  double total = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (used(gap, d, i)) {
      direction += sheet.area[i] * gap.nodes[i].direction;
      centre += sheet.area[i] * sheet.mesh.points[i];
      total += sheet.area[i];
    }
  if (total > 0) fit.part.pivot = centre / total;
  if (direction.norm() > 0) {
    direction.normalize();
    fit.part.axis = direction.z() > kAlongZ ? Vec3(Vec3::UnitZ()) : direction;
  }
  if (fit.part.axis == Vec3::UnitZ()) return;
  const Vec3 start = std::abs(fit.part.axis.x()) < 0.9 ? Vec3::UnitX() : Vec3::UnitY();
  fit.e1 = (start - start.dot(fit.part.axis) * fit.part.axis).normalized();
  fit.e2 = fit.part.axis.cross(fit.e1);
}

/// Pseudo-inverse in lengths: tilts are scaled by the sheet's size so that all three parameters are comparable.
Eigen::Matrix3d invert(const Eigen::Matrix3d& h, double size) {
  const Eigen::DiagonalMatrix<double, 3> scale(1, 1 / size, 1 / size);
  const auto solver = spectrum_of(Eigen::Matrix3d(scale * h * scale));
  Vec3 inverse = Vec3::Zero();
  for (int k = 0; k < 3; ++k)
    if (solver.eigenvalues()[k] > kRankTolerance * solver.eigenvalues().sum()) inverse[k] = 1 / solver.eigenvalues()[k];
  return scale * (solver.eigenvectors() * inverse.asDiagonal() * solver.eigenvectors().transpose()) * scale;
}

}  // namespace

Vec3 RigidFit::row(const Sheet& sheet, const GapMap& gap, int i) const {
  const Vec3& d = gap.nodes[i].direction;
  const Vec3 arm = (sheet.mesh.points[i] - part.pivot).cross(d);  // d·(ω × r) = ω·(r × d)
  return {d.dot(part.axis), arm.dot(e1), arm.dot(e2)};
}

namespace {

/// Frame, rows and first weights; nodes that are not used weigh nothing.
struct Started {
  std::vector<Vec3> rows;
  double size = 1;  ///< of the sheet about the pivot, mm
  /// Nodes that agree within their own noise must not be treated as outliers of a lucky, tighter fit.
  double noise_floor = kLeastSigma;
};
Started start(RigidFit& fit, const Sheet& sheet, const GapMap& gap, const std::vector<double>& d) {
  choose_frame(fit, sheet, gap, d);
  Started out;
  out.rows.assign(sheet.size(), Vec3::Zero()), fit.weight.assign(sheet.size(), 0);
  std::vector<std::pair<double, double>> fit_noise;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (used(gap, d, i)) {
      out.rows[i] = fit.row(sheet, gap, static_cast<int>(i));
      fit.weight[i] = sheet.area[i];
      out.size = std::max(out.size, (sheet.mesh.points[i] - fit.part.pivot).norm());
      fit_noise.push_back({std::hypot(gap.nodes[i].u_lower, gap.nodes[i].u_upper), sheet.area[i]});
    }
  out.noise_floor = std::max(out.noise_floor, weighted_percentile(fit_noise, 0.5));
  return out;
}

/// Weighted least squares with the weights as they are; sets the inverse.
Vec3 solve_once(RigidFit& fit, const Started& from, const std::vector<double>& d) {
  Eigen::Matrix3d h = Eigen::Matrix3d::Zero();
  Vec3 g = Vec3::Zero();
  for (std::size_t i = 0; i < d.size(); ++i) {
    if (fit.weight[i] == 0) continue;
    h += fit.weight[i] * from.rows[i] * from.rows[i].transpose();
    g += fit.weight[i] * from.rows[i] * d[i];
  }
  fit.inverse = invert(h, from.size);
  return fit.inverse * g;
}

/// Offset and tilts, by passes of Huber and then of Tukey. Weights, inverse and parameters are those of the last pass.
Vec3 robust_parameters(RigidFit& fit, const Started& from, const Sheet& sheet, const GapMap& gap,
                       const std::vector<double>& d) {
  for (int pass = 0;; ++pass) {
    Vec3 theta = solve_once(fit, from, d);
    std::vector<std::pair<double, double>> left;
    for (std::size_t i = 0; i < sheet.size(); ++i)
      if (used(gap, d, i)) left.push_back({std::abs(d[i] - from.rows[i].dot(theta)), sheet.area[i]});
    const double noise = std::max(from.noise_floor, kMadToSigma * weighted_percentile(left, 0.5));
    fit.part.noise = noise;
    if (pass + 1 == 2 * kPasses) return theta;
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      if (!used(gap, d, i)) continue;
      const double r = std::abs(d[i] - from.rows[i].dot(theta)), t = r / (kTukey * noise);
      const double robust = pass < kPasses ? noise / std::max(r, noise)  // Huber: convex, a safe start
                                           : (t < 1 ? (1 - t * t) * (1 - t * t) : 0);
      fit.weight[i] = sheet.area[i] * robust;
    }
  }
}

/// How the parameters hang on each cause, and their covariance by all of them.
Eigen::Matrix3d covariance_by_causes(RigidFit& fit, const std::vector<Vec3>& rows, const Sheet& sheet,
                                     const GapMap& gap) {
  double instrument = 0, temperature = 0, weights = 0;
  Eigen::Matrix<double, 3, Eigen::Dynamic> shapes =
      Eigen::Matrix<double, 3, Eigen::Dynamic>::Zero(3, gap.shapes.cols());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double w = fit.weight[i];
    if (w == 0) continue;
    const NodeGap& node = gap.nodes[i];
    fit.by_fits += w * w * (node.u_lower * node.u_lower + node.u_upper * node.u_upper) * rows[i] * rows[i].transpose();
    fit.by_registration += w * rows[i] * registration_row(sheet, gap, static_cast<int>(i)).transpose();
    fit.by_common += w * rows[i];
    instrument += w * gap.common_instrument(i), temperature += w * node.u_temperature, weights += w;
    if (shapes.cols() > 0) shapes += w * rows[i] * gap.shapes.row(static_cast<Eigen::Index>(i));
  }
  const SharedFits shared = shared_fits(sheet, gap);
  for (std::size_t i = 0; i < shared.nodes(); ++i) {
    if (fit.weight[i] == 0) continue;
    const NodeGap& a = gap.nodes[i];
    Vec3 lower = Vec3::Zero(), upper = Vec3::Zero();
    shared.after(i, [&](std::size_t j, double rho) {
      const double w = rho * fit.weight[j];
      lower += w * gap.nodes[j].u_lower * rows[j], upper += w * gap.nodes[j].u_upper * rows[j];
    });
    const Vec3 with = fit.weight[i] * (a.u_lower * lower + a.u_upper * upper);
    fit.by_fits += rows[i] * with.transpose() + with * rows[i].transpose();
  }
  fit.by_fits = fit.inverse * fit.by_fits * fit.inverse;
  fit.by_registration = fit.inverse * fit.by_registration;
  fit.by_common = fit.inverse * fit.by_common;
  if (weights > 0) instrument /= weights, temperature /= weights;
  const double common2 = instrument * instrument + temperature * temperature;
  shapes = fit.inverse * shapes;
  return fit.by_fits + shapes * shapes.transpose() +
         fit.by_registration * gap.registration * fit.by_registration.transpose() +
         common2 * fit.by_common * fit.by_common.transpose();
}

/// What the motion does at each node, and its RMS over the sheet.
void set_effect(RigidFit& fit, const Vec3& theta, const Eigen::Matrix3d& covariance, const Sheet& sheet,
                const GapMap& gap, const std::vector<double>& d) {
  RigidPart& part = fit.part;
  part.effect.assign(sheet.size(), 0);
  double total = 0, square = 0, variance = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3 row = fit.row(sheet, gap, static_cast<int>(i));
    part.effect[i] = row.dot(theta);
    if (!used(gap, d, i)) continue;
    total += sheet.area[i];
    square += sheet.area[i] * part.effect[i] * part.effect[i];
    variance += sheet.area[i] * row.dot(covariance * row);
  }
  if (total > 0) part.rms = std::sqrt(square / total), part.rms_U = gap.coverage * std::sqrt(variance / total);
}

}  // namespace

RigidFit conformity::solve_rigid(const Sheet& sheet, const GapMap& gap, const std::vector<double>& d) {
  RigidFit fit;
  const Started from = start(fit, sheet, gap, d);
  const Vec3 theta = robust_parameters(fit, from, sheet, gap, d);
  fit.part.offset = theta[0];
  fit.part.tilt = theta[1] * fit.e1 + theta[2] * fit.e2;
  const Eigen::Matrix3d covariance = covariance_by_causes(fit, from.rows, sheet, gap);
  fit.part.offset_U = gap.coverage * std::sqrt(std::max(0.0, covariance(0, 0)));
  Eigen::Matrix<double, 3, 2> axes;
  axes << fit.e1, fit.e2;
  const Eigen::Matrix3d tilts = axes * covariance.bottomRightCorner<2, 2>() * axes.transpose();
  fit.part.tilt_U = gap.coverage * tilts.diagonal().cwiseMax(0).cwiseSqrt();
  set_effect(fit, theta, covariance, sheet, gap, d);
  return fit;
}

std::vector<double> RigidFit::on_remainder(const Sheet& sheet, const GapMap& gap, std::vector<double> h) const {
  Vec3 sum = Vec3::Zero();
  for (std::size_t i = 0; i < h.size(); ++i)
    if (h[i] != 0) sum += h[i] * row(sheet, gap, static_cast<int>(i));
  const Vec3 answer = inverse * sum;
  for (std::size_t i = 0; i < h.size(); ++i)
    if (weight[i] != 0) h[i] -= weight[i] * answer.dot(row(sheet, gap, static_cast<int>(i)));
  return h;
}

RigidPart conformity::fit_rigid_part(const Sheet& sheet, const GapMap& gap, const std::vector<double>& d) {
  return conformity::solve_rigid(sheet, gap, d).part;
}

}  // namespace gapfront
