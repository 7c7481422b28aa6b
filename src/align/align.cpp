#include "gapfront/align.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "align/rigid.hpp"
#include "align/targets.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

Vec3 middle(const std::vector<Vec3>& points) {
  if (points.empty()) return Vec3::Zero();
  Vec3 low = points.front(), high = low;
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return (low + high) / 2;
}

bool uses(const AlignOptions& options, AlignMethod method) {
  return std::find(options.methods.begin(), options.methods.end(), method) != options.methods.end();
}

}  // namespace

double Alignment::u_at(const Vec3& p, const Vec3& d) const {
  const Eigen::Matrix<double, 1, 6> j = d.normalized().transpose() * motion_jacobian(p, pivot);
  return std::sqrt(std::max(0.0, (j * covariance * j.transpose()).value()));
}

Alignment align(const Scan& lower, const Scan& upper, const AlignOptions& options, double noise_lower,
                double noise_upper, const Progress& progress) {
  report_progress(progress, "align", 0);
  check_targets(options.targets);
  if (options.methods.empty()) throw Error(Fault::input, "align: no method given; give \"targets\" or another");
  if (uses(options, AlignMethod::flange) || uses(options, AlignMethod::nominal) || options.methods.size() > 1)
    throw Error(Fault::input, "align: this version registers by \"targets\" or \"given\" alone; choose one of them");
  Alignment out;
  const auto add = [&](const std::vector<std::string>& more) {
    out.warnings.insert(out.warnings.end(), more.begin(), more.end());
  };
  if (uses(options, AlignMethod::given)) {
    out.method = "given: both scans share the tool frame, closed";
    out.pivot = middle(lower.cloud.points);
    const double u = options.given_u.value_or(0);
    out.covariance.topLeftCorner<3, 3>() = u * u * Eigen::Matrix3d::Identity();
    if (!options.given_u)
      out.warnings.push_back("align: the closed position is taken as exact, because given_u is not given");
  } else if (uses(options, AlignMethod::targets)) {
    const auto targets = locate_targets(lower, upper, options.targets, noise_lower, noise_upper, progress);
    const Datum datum = tool_datum(targets);
    const TargetFit fit = fit_targets(targets, datum.lower_to_tool, options.residual_limit);
    out.lower_to_tool = datum.lower_to_tool;
    out.upper_to_tool = fit.fit.motion;
    out.pivot = fit.fit.pivot;
    out.covariance = fit.fit.information.inverse();
    out.fit_rms = fit.rms;
    out.residuals = fit.residuals;
    out.scale_ppm = fit.scale_ppm, out.scale_ppm_u = fit.scale_ppm_u;
    out.method = "targets: " + std::to_string(fit.residuals.size()) + " seen in both halves; " + datum.words;
    add(datum.warnings);
    add(fit.warnings);
  }
  report_progress(progress, "align", 1);
  return out;
}

}  // namespace gapfront
