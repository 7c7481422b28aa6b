#include "core/area_mean.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <numeric>

#include "core/cell_grid.hpp"
#include "core/parallel.hpp"

namespace gapfront {
namespace {

/// A quadric fitted over a disc with weights 1 − s (s = square of the distance in radii) weighs its points, at the
/// centre, by K = 6/π (1 − 2s)(1 − s): ∫K = 1, ∫sK = 0. Its noise is averaged over 1/∫K² = π r²/4.8, and that of two
/// fits is alike by ∫K(x)K(x − d) / ∫K². Here by tenths of a radius, integrated on a grid of 240 × 240 (own
/// calculation; a test makes it again). Linear between them it makes 0.8 % too much of the whole.
constexpr double kDiscs = 4.8;
constexpr std::array<double, 21> kAlike{1,       0.9649,  0.8703,  0.7348,  0.5778,  0.4177,  0.2699,
                                        0.1457,  0.0518,  -0.0102, -0.0426, -0.0513, -0.0441, -0.029,
                                        -0.0133, -0.0017, 0.0038,  0.0041,  0.002,   0.0003,  0};
// Fits share points only on the same wall: normals within 72° (as the gap's fits).
constexpr double kOneWall = 0.3;

double fit_radius_of(double fit_area) { return std::sqrt(kDiscs * std::max(0.0, fit_area) / std::numbers::pi); }

}  // namespace

Vector6 registration_row(const Sheet& sheet, const GapMap& gap, int i) {
  const Vec3& d = gap.nodes[i].direction;
  Vector6 out;
  out << d, (sheet.mesh.points[i] - gap.pivot).cross(d);
  return out;
}

double fit_correlation(double distance, double fit_area) {
  const double r = fit_radius_of(fit_area);
  if (distance == 0) return 1;
  if (!(distance < 2 * r)) return 0;
  const double t = 10 * distance / r;
  const auto k = std::min(static_cast<std::size_t>(t), kAlike.size() - 2);
  return kAlike[k] + (t - static_cast<double>(k)) * (kAlike[k + 1] - kAlike[k]);
}

SharedFits shared_fits(const Sheet& sheet, const GapMap& gap, double within) {
  const std::size_t n = sheet.size();
  double reach = 0;
  for (const NodeGap& g : gap.nodes)
    if (g.measured) reach = std::max(reach, 2 * fit_radius_of(g.fit_area));
  reach = std::min(reach, within);
  SharedFits out;
  out.start.assign(n + 1, 0);
  if (n == 0 || reach == 0) return out;
  const cells::Grid grid(sheet.mesh.points, reach);
  struct Partner {
    int node;
    float rho;
  };
  const auto partners = [&](std::size_t i, std::vector<Partner>& out) {
    thread_local std::vector<std::uint32_t> around;
    out.clear();
    const NodeGap& a = gap.nodes[i];
    if (!a.measured) return;
    grid.around(sheet.mesh.points[i], around);
    for (const std::uint32_t j : around) {
      const NodeGap& b = gap.nodes[j];
      if (j <= i || !b.measured || sheet.normals[i].dot(sheet.normals[j]) < kOneWall) continue;
      const double apart = (sheet.mesh.points[i] - sheet.mesh.points[j]).norm();
      const double rho = apart > within ? 0 : fit_correlation(apart, 0.5 * (a.fit_area + b.fit_area));
      if (rho != 0) out.push_back({static_cast<int>(j), static_cast<float>(rho)});
    }
  };
  // Looked for twice, to be counted and to be kept: rows of their own would take twice the memory.
  parallel_for(n, [&](std::size_t i) {
    thread_local std::vector<Partner> some;
    partners(i, some);
    out.start[i + 1] = some.size();
  });
  std::partial_sum(out.start.begin(), out.start.end(), out.start.begin());
  out.node.resize(out.start.back()), out.rho.resize(out.start.back());
  parallel_for(n, [&](std::size_t i) {
    thread_local std::vector<Partner> some;
    partners(i, some);
    std::sort(some.begin(), some.end(), [](const Partner& x, const Partner& y) { return x.node < y.node; });
    for (std::size_t k = 0; k < some.size(); ++k)
      out.node[out.start[i] + k] = some[k].node, out.rho[out.start[i] + k] = some[k].rho;
  });
  return out;
}

double SumErrors::fits() const { return std::hypot(lower, upper); }
double SumErrors::common() const { return std::hypot(instrument, temperature, registration); }
double SumErrors::u() const { return std::hypot(fits(), common()); }

SumErrors sum_errors(const Sheet& sheet, const GapMap& gap, const SharedFits& shared, const std::vector<double>& h) {
  SumErrors out;
  double lower = 0, upper = 0, lump = 0;
  Vector6 motion = Vector6::Zero();
  Eigen::RowVectorXd shapes = Eigen::RowVectorXd::Zero(gap.shapes.cols());
  for (std::size_t i = 0; i < h.size(); ++i) {
    const NodeGap& n = gap.nodes[i];
    if (h[i] == 0 || !n.measured) continue;
    lower += h[i] * h[i] * n.u_lower * n.u_lower, upper += h[i] * h[i] * n.u_upper * n.u_upper;
    out.instrument += h[i] * gap.common_instrument(i), out.temperature += h[i] * n.u_temperature;
    lump += h[i] * n.u_registration;
    if (shapes.cols() > 0) shapes += h[i] * gap.shapes.row(static_cast<Eigen::Index>(i));
    motion += h[i] * registration_row(sheet, gap, static_cast<int>(i));
  }
  for (std::size_t i = 0; i < shared.nodes(); ++i) {
    if (h[i] == 0) continue;
    const NodeGap& a = gap.nodes[i];
    shared.after(i, [&](std::size_t j, double rho) {
      const NodeGap& b = gap.nodes[j];
      const double both = 2 * rho * h[i] * h[j];
      lower += both * a.u_lower * b.u_lower, upper += both * a.u_upper * b.u_upper;
    });
  }
  if (shapes.cols() > 0) out.instrument = std::hypot(out.instrument, shapes.norm());
  // The table's correlations make no negative variance but by rounding and by fits of unlike reach.
  out.lower = std::sqrt(std::max(0.0, lower)), out.upper = std::sqrt(std::max(0.0, upper));
  // Without a covariance (positions simply given) the declared registration u counts as one common error.
  out.registration =
      gap.registration.isZero() ? std::abs(lump) : std::sqrt(std::max(0.0, motion.dot(gap.registration * motion)));
  return out;
}

std::vector<double> mean_weights(const Sheet& sheet, const GapMap& gap, const std::vector<int>& nodes) {
  std::vector<double> h(sheet.size(), 0);
  double area = 0;
  for (const int i : nodes)
    if (gap.nodes[i].measured) area += sheet.area[i];
  for (const int i : nodes)
    if (gap.nodes[i].measured && area > 0) h[i] = sheet.area[i] / area;
  return h;
}

}  // namespace gapfront
