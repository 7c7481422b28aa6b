#include "align/targets.hpp"

#include <Eigen/LU>
#include <cmath>

#include "align/free_motion.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

// Checks are made at every inspection, so they speak at three sigma: one false word in about 370.
constexpr double kSigma = 3;

double root_mean_variance(const Eigen::Matrix3d& cov) { return std::sqrt(cov.trace() / 3); }

/// Miss of each pair when predicted by all the others; empty when the others do not fix the motion.
std::vector<double> leave_one_out(const std::vector<Pair>& pairs, const std::vector<NamedPlace>& places) {
  std::vector<double> miss(pairs.size(), 0.0);
  if (pairs.size() < 4) return miss;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    auto others = pairs;
    auto others_at = places;
    others.erase(others.begin() + i);
    others_at.erase(others_at.begin() + i);
    if (!free_motion_of(others_at).empty()) continue;
    miss[i] = (fit_pairs(others).motion * pairs[i].from - pairs[i].to).norm();
  }
  return miss;
}

/// The pair without which the rest agrees, if there is one: its index, or −1.
int odd_one_out(const std::vector<Pair>& pairs, const std::vector<NamedPlace>& places) {
  int odd = -1;
  double least = 0;
  for (std::size_t i = 0; pairs.size() >= 4 && i < pairs.size(); ++i) {
    auto others = pairs;
    auto others_at = places;
    others.erase(others.begin() + i);
    others_at.erase(others_at.begin() + i);
    if (!free_motion_of(others_at).empty()) continue;
    const double chi2 = fit_pairs(others).chi2;
    if (odd < 0 || chi2 < least) odd = static_cast<int>(i), least = chi2;
  }
  return odd >= 0 && least <= chi2_limit(3.0 * (pairs.size() - 1) - 6, kSigma) ? odd : -1;
}

/// Size of the upper set of places over that of the lower one: 25.4 and 1000 speak of units, not of temperature.
double size_ratio(const std::vector<Pair>& pairs) {
  double from = 0, to = 0;
  for (const Pair& a : pairs)
    for (const Pair& b : pairs) from += (a.from - b.from).norm(), to += (a.to - b.to).norm();
  return to > 0 ? from / to : 1;
}

}  // namespace

ToolDatum tool_datum(const std::vector<LocatedTarget>& targets) {
  ToolDatum datum;
  std::vector<Pair> pairs;
  std::vector<NamedPlace> places;
  for (const LocatedTarget& t : targets)
    if (t.tool && t.lower) {
      pairs.push_back({t.lower->at, *t.tool, t.lower->cov, Eigen::Matrix3d::Zero()});
      places.push_back({t.name, *t.tool});
    }
  if (pairs.empty()) {
    datum.words = "tool frame: the lower scan's own";
    return datum;
  }
  if (const std::string loose = free_motion_of(places); pairs.size() >= 3 && !loose.empty())
    throw Error(Fault::measurement,
                "align: the lower half is " + loose + " in the tool frame; give tool places of targets off that line");
  if (pairs.size() < 3) {
    datum.words = "tool frame: the lower scan's own";
    datum.warnings.push_back(words(
        "align: only %zu target(s) with tool places, 3 are needed; the tool frame is the lower scan's", pairs.size()));
    return datum;
  }
  datum.lower_to_tool = fit_pairs(pairs).motion;
  datum.words = words("tool frame from %zu targets", pairs.size());
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const double miss = (datum.lower_to_tool * pairs[i].from - pairs[i].to).norm();
    // Tool places come from drawings: a tenth is their usual rounding; only the place of the report's frame hangs on
    // it.
    if (miss > 0.1 + kSigma * root_mean_variance(pairs[i].from_cov))
      datum.warnings.push_back(
          words("align: target %s is %.2f mm from its tool place; the tool frame is that uncertain there",
                places[i].name.c_str(), miss));
  }
  return datum;
}

TargetFit fit_targets(const std::vector<LocatedTarget>& targets, const Rigid& lower_to_tool, double limit) {
  std::vector<Pair> pairs;
  std::vector<NamedPlace> places;
  TargetFit out;
  const Eigen::Matrix3d turn = lower_to_tool.linear();
  for (const LocatedTarget& t : targets) {
    if (!t.lower || !t.upper) continue;
    pairs.push_back({t.upper->at, lower_to_tool * t.lower->at, t.upper->cov, turn * t.lower->cov * turn.transpose()});
    places.push_back({t.name, pairs.back().to});
    TargetResidual r;
    r.name = t.name;
    r.lower_form = t.lower->form, r.upper_form = t.upper->form;
    r.lower_points = t.lower->points, r.upper_points = t.upper->points;
    r.place = places.back().at;
    out.residuals.push_back(r);
  }
  if (const std::string loose = free_motion_of(places); !loose.empty())
    throw Error(Fault::measurement, "align: " + std::to_string(places.size()) +
                                        " target(s) seen in both halves leave the upper half " + loose +
                                        "; add targets off it, at least 3 in all");
  if (const double ratio = size_ratio(pairs); std::abs(ratio - 1) > 0.02 && limit > 0)
    throw Error(
        Fault::measurement,
        words(
            "align: the targets lie %.4g times as far apart in the upper half as in the lower; check units and places",
            ratio));

  out.fit = fit_pairs(pairs);
  const auto alone = leave_one_out(pairs, places);
  std::size_t worst = 0;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    TargetResidual& r = out.residuals[i];
    r.residual = out.fit.motion * pairs[i].from - pairs[i].to;
    r.leave_one_out = alone[i];
    out.rms += r.residual.squaredNorm() / pairs.size();
    if (r.residual.norm() > out.residuals[worst].residual.norm()) worst = i;
  }
  out.rms = std::sqrt(out.rms);
  const double freedom = 3.0 * pairs.size() - 6;
  const bool agree = out.fit.chi2 <= chi2_limit(freedom, kSigma);
  const int odd = agree ? -1 : odd_one_out(pairs, places);
  const TargetResidual& named = out.residuals[odd >= 0 ? odd : worst];
  const double miss = std::max(named.residual.norm(), named.leave_one_out);
  if (limit > 0 && out.residuals[worst].residual.norm() > limit)
    throw Error(Fault::measurement,
                words("align: target %s disagrees with the others by %.2f mm; check its name, its places and its seat",
                      named.name.c_str(), miss));
  if (!agree) {
    if (odd >= 0)
      out.warnings.push_back(
          words("align: target %s disagrees with the others by %.3f mm, which agree without it; check its seat",
                named.name.c_str(), miss));
    else
      out.warnings.push_back(
          words("align: the targets disagree by %.3f mm RMS, more than their uncertainties explain; the registration's "
                "uncertainty is raised to match",
                out.rms));
    out.fit.information *= freedom / out.fit.chi2;  // Birge ratio
  }

  const ScaleFit scale = apparent_scale(pairs, out.fit);
  const bool explained = scale.chi2 <= chi2_limit(freedom - 1, kSigma);
  out.scale_ppm = 1e6 * scale.scale;
  out.scale_ppm_u = 1e6 * scale.u * (explained ? 1 : std::sqrt(scale.chi2 / (freedom - 1)));
  if (std::abs(out.scale_ppm) > kSigma * out.scale_ppm_u)
    out.warnings.push_back(
        words("align: the upper half looks %.0f ± %.0f ppm (1 sigma) %s than the lower; check the temperatures of "
              "the two scans and the scanner's scale",
              std::abs(out.scale_ppm), out.scale_ppm_u, out.scale_ppm > 0 ? "larger" : "smaller"));
  return out;
}

}  // namespace gapfront
