#include "align/touched.hpp"

#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "gapfront/error.hpp"
#include "units/digits.hpp"

namespace gapfront::align {
namespace {

std::string count_of(std::size_t n) { return std::to_string(n) + (n == 1 ? " point" : " points"); }

SphereFit fit_of(const Scan& scan, const Target& t, const ScanFeature& feature, const char* half) {
  // Tip centres lie on a ball that is larger by the tip.
  SphereFit fit = fit_touched_ball(feature.points, *t.ball / 2 + scan.tip_radius);
  const std::string who =
      "target " + t.name + ": its " + count_of(feature.points.size()) + " in the " + half + " half ";
  if (fit.used == 0)
    throw Error(Fault::measurement,
                who + "do not say where the centre of the ball is; touch it on top and all round, six points or more");
  // A fifth of a millimetre: more than any ball and probe are off, less than a wrong diameter in whole millimetres
  // shows.
  if (fit.rms > 0.2)
    throw Error(Fault::measurement, who + "lie " + format_length(fit.rms, UnitSystem::mm) + " (RMS) off a ball of " +
                                        format_length(*t.ball, UnitSystem::mm) +
                                        "; correct ball, unit or tip_radius, or the names in column feature");
  return fit;
}

}  // namespace

Vec3 middle_of(const std::vector<Vec3>& points) {
  Vec3 sum = Vec3::Zero();
  for (const Vec3& p : points) sum += p;
  return sum / double(points.size());
}

const ScanFeature& feature_of(const Scan& scan, const std::string& name, const char* half) {
  const auto found =
      std::find_if(scan.features.begin(), scan.features.end(), [&](const ScanFeature& f) { return f.name == name; });
  if (found != scan.features.end()) return *found;
  std::string known;
  for (const ScanFeature& f : scan.features) known += (known.empty() ? "" : ", ") + f.name;
  throw Error(Fault::input, scan.path + ": no point of the " + half + " half is named \"" + name +
                                "\" in a column feature" + (known.empty() ? "" : " (there are: " + known + ")") +
                                "; name the touched points so, or correct the name in [align]");
}

std::optional<double> touch_variance(const TouchScatter& s, const std::optional<double>& declared, bool* exceeds) {
  if (exceeds) *exceeds = false;
  if (declared) {
    const double own = *declared * *declared;
    if (s.dof == 0 || s.squares <= chi2_limit(s.dof, 3) * own) return own;
    if (exceeds) *exceeds = true;
    return s.squares / s.dof;
  }
  if (s.dof < 3) return std::nullopt;
  return s.squares / s.dof * s.dof / (s.dof - 2);
}

std::vector<std::optional<Located>> locate_touched(const Scan& scan, const std::vector<Target>& targets,
                                                   const char* half, const std::optional<double>& touch_u) {
  std::vector<std::optional<Located>> out(targets.size());
  TouchScatter scatter;
  for (std::size_t k = 0; k < targets.size(); ++k) {
    const Target& t = targets[k];
    if (!t.touched) continue;
    const ScanFeature& feature = feature_of(scan, t.name, half);
    Located& found = out[k].emplace();
    found.points = static_cast<int>(feature.points.size());
    if (t.ball) {
      const SphereFit fit = fit_of(scan, t, feature, half);
      found.at = fit.centre, found.cov = fit.covariance, found.form = fit.rms;
      scatter.squares += fit.rms * fit.rms * fit.used, scatter.dof += fit.used - 3;
    } else {
      found.at = middle_of(feature.points), found.cov = Eigen::Matrix3d::Identity() / double(found.points);
      for (const Vec3& p : feature.points) scatter.squares += (p - found.at).squaredNorm();
      scatter.dof += 3 * (found.points - 1);
    }
  }
  const auto variance = touch_variance(scatter, touch_u);
  for (std::size_t k = 0; k < targets.size(); ++k) {
    if (!out[k]) continue;
    const auto& u = targets[k].u;
    if (!u && !variance)
      throw Error(Fault::measurement,
                  "target " + targets[k].name + ": so few points of the " + half +
                      " half do not say how well they are touched; touch six or more on each ball, or give touch_u in "
                      "[align]");
    if (u)
      out[k]->cov = *u * *u * Eigen::Matrix3d::Identity();
    else
      out[k]->cov *= *variance;
    // A nanometre, squared: exact data can still be inverted.
    out[k]->cov += 1e-12 * Eigen::Matrix3d::Identity();
    out[k]->known = true;
  }
  return out;
}

}  // namespace gapfront::align
