#include "align/targets.hpp"

#include <Eigen/LU>
#include <cmath>

#include "align/free_motion.hpp"
#include "align/target_test.hpp"
#include "core/distributions.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront::align {
namespace {

// Checks are made at every inspection, so they speak at three sigma: one false alarm in about 370.
constexpr double kSigma = 3;

// A place further off than this is a slip, not a tolerance: the motion is found without it, mm.
constexpr double kSlip = 1;

/// Tool places come from drawings, rounded to a tenth to either side: 0.1/√3 per coordinate (GUM 4.3.7).
Eigen::Matrix3d tool_covariance() { return 0.01 / 3 * Eigen::Matrix3d::Identity(); }

double root_mean_variance(const Eigen::Matrix3d& cov) { return std::sqrt(cov.trace() / 3); }

/// Size of the upper set of places over that of the lower one: 25.4 and 1000 speak of units, not of temperature.
double size_ratio(const std::vector<Pair>& pairs) {
  double from = 0, to = 0;
  for (const Pair& a : pairs)
    for (const Pair& b : pairs) from += (a.from - b.from).norm(), to += (a.to - b.to).norm();
  return to > 0 ? from / to : 1;
}

// Times the limit of a residual: past 2 cm a map would show the error of the targets and nothing else.
constexpr double kHopeless = 20;

// So many targets are left at least when one is left out. Of four, two whose seats are off alike would agree with the
// other two along the opening axis, and a sound one would be left out for them.
constexpr std::size_t kTestEachOther = 5;

/// No worse than chance makes it.
bool others_agree(std::vector<Pair> pairs, int without) {
  pairs.erase(pairs.begin() + without);
  return p_value(fit_pairs(pairs).chi2, 3.0 * double(pairs.size()) - 6) > kFalseAlarm;
}

/// Takes out of the fit the target that is off, where it is known which one; or the two that were exchanged, which
/// leaves a doubt whatever the others say.
void leave_out(const AlignOptions& o, std::vector<Pair>& used, TargetFit& fit) {
  const TargetTest& test = fit.test;
  std::vector<int> out;
  const double play = seat_play(test, o);
  if (test.exchanged[0] >= 0) {
    if (used.size() >= 5) out = {test.exchanged[1], test.exchanged[0]};  // the later one first: places in a list
  } else if (const int odd = likely_odd(test, play); odd >= 0 && o.residual_limit > 0) {
    fit.rest_suffices = used.size() > kTestEachOther && disagree(test, play) && others_agree(used, odd);
    if (fit.rest_suffices || (test.odd.size() == 1 && test.miss[odd].norm() > o.residual_limit)) out = {odd};
  }
  for (const int i : out) used.erase(used.begin() + i), fit.left_out.push_back(test.names[i]);
}

}  // namespace

ToolDatum tool_datum(const std::vector<LocatedTarget>& targets) {
  ToolDatum datum;
  std::vector<Pair> pairs;
  std::vector<NamedPlace> places;
  for (const LocatedTarget& t : targets)
    if (t.tool && t.lower) {
      pairs.push_back({t.lower->at, *t.tool, t.lower->cov, tool_covariance()});
      places.push_back({t.name, *t.tool});
    }
  if (pairs.empty()) {
    datum.said = Message("proof.tool-frame-lower-scans");
    return datum;
  }
  if (const std::string loose = free_motion_of(places); pairs.size() >= 3 && !loose.empty())
    throw Error(Fault::measurement,
                "align: the lower half is " + loose + " in the tool frame; give tool places of targets off that line");
  if (pairs.size() < 3) {
    datum.said = Message("proof.tool-frame-lower-scans");
    datum.warnings.push_back(Message("warnings.align-only-target-s", {static_cast<long>(pairs.size())}));
    return datum;
  }
  datum.test = test_pairs(pairs, places);
  // A place that is wrong by millimetres would turn the frame for all the others.
  auto used = pairs;
  if (const TargetTest& t = datum.test; t.odd.size() == 1 && t.miss[t.odd[0]].norm() > kSlip)
    used.erase(used.begin() + t.odd[0]);
  datum.lower_to_tool = {fit_pairs(used).motion};
  datum.said = Message("proof.tool-frame-from-targets", {static_cast<long>(pairs.size())});
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const double miss = (datum.lower_to_tool.motion * pairs[i].from - pairs[i].to).norm();
    // Tool places come from drawings: a tenth is their usual rounding; only the place of the report's frame hangs on
    // it.
    if (miss > 0.1 + kSigma * root_mean_variance(pairs[i].from_cov))
      datum.warnings.push_back(
          Message("warnings.align-target-from-tool", {arg::name(places[i].name), arg::length(miss, 2)}));
  }
  return datum;
}

TargetTest upper_against_tool(const std::vector<LocatedTarget>& targets) {
  std::vector<Pair> pairs;
  std::vector<NamedPlace> places;
  for (const LocatedTarget& t : targets)
    if (t.tool && t.upper) {
      pairs.push_back({t.upper->at, *t.tool, t.upper->cov, tool_covariance()});
      places.push_back({t.name, *t.tool});
    }
  if (pairs.size() < 3 || !free_motion_of(places).empty()) return {};
  return test_pairs(pairs, places);
}

TargetFit fit_targets(const std::vector<LocatedTarget>& targets, const ScanToTool& lower_to_tool,
                      const AlignOptions& options) {
  const double limit = options.residual_limit;
  std::vector<Pair> pairs;
  std::vector<NamedPlace> places;
  TargetFit out;
  const Eigen::Matrix3d turn = lower_to_tool.motion.linear();
  for (const LocatedTarget& t : targets) {
    if (!t.lower || !t.upper) continue;
    pairs.push_back(
        {t.upper->at, lower_to_tool * ScanPlace{t.lower->at}, t.upper->cov, turn * t.lower->cov * turn.transpose()});
    places.push_back({t.name, pairs.back().to});
    TargetResidual r;
    r.name = t.name;
    r.lower_form = t.lower->form, r.upper_form = t.upper->form;
    r.lower_u = std::sqrt(t.lower->cov.trace() / 3), r.upper_u = std::sqrt(t.upper->cov.trace() / 3);
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

  out.test = test_pairs(pairs, places);
  for (const LocatedTarget& t : targets)
    if (t.lower && t.upper) out.test.declared = out.test.declared && t.lower->known && t.upper->known;
  std::vector<Pair> used = pairs;
  leave_out(options, used, out);
  out.fit = fit_pairs(used);
  std::size_t worst = 0;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    TargetResidual& r = out.residuals[i];
    r.residual = out.fit.motion * pairs[i].from - pairs[i].to;
    r.leave_one_out = pairs.size() < 4 ? 0 : out.test.miss[i].norm();
    out.rms += r.residual.squaredNorm() / pairs.size();
    if (r.residual.norm() > out.residuals[worst].residual.norm()) worst = i;
  }
  out.rms = std::sqrt(out.rms);
  const double dof = 3.0 * used.size() - 6;
  // Gross errors that cannot be put down to one target leave no closed position worth drawing.
  if (limit > 0 && out.left_out.empty() && out.residuals[worst].residual.norm() > kHopeless * limit)
    throw Error(Fault::measurement,
                words("align: the targets disagree by up to %.1f mm, most at %s; check their names, places and units",
                      out.residuals[worst].residual.norm(), out.residuals[worst].name.c_str()));
  if (out.fit.chi2 > chi2_limit(dof, kSigma)) {
    const bool one = out.test.odd.size() == 1;
    const TargetResidual& named = out.residuals[one ? out.test.odd[0] : worst];
    if (one)
      out.warnings.push_back(
          Message("warnings.align-target-disagrees-others",
                  {arg::name(named.name), arg::length(std::max(named.residual.norm(), named.leave_one_out), 3)}));
    else
      out.warnings.push_back(Message("warnings.align-targets-disagree-rms", {arg::length(out.rms, 3)}));
    out.fit.information *= dof / out.fit.chi2;  // Birge ratio
  }

  const ScaleFit scale = apparent_scale(used, out.fit);
  const bool explained = scale.chi2 <= chi2_limit(dof - 1, kSigma);
  out.scale_ppm = 1e6 * scale.scale;
  out.scale_ppm_u = 1e6 * scale.u * (explained ? 1 : std::sqrt(scale.chi2 / (dof - 1)));
  if (std::abs(out.scale_ppm) > kSigma * out.scale_ppm_u)
    out.warnings.push_back(out.scale_ppm > 0 ? Message("warnings.align-upper-half-looks",
                                                       {arg::number(out.scale_ppm), arg::number(out.scale_ppm_u)})
                                             : Message("warnings.align-upper-half-looks-sigma",
                                                       {arg::number(-out.scale_ppm), arg::number(out.scale_ppm_u)}));
  return out;
}

}  // namespace gapfront::align
