#include "gapfront/align.hpp"
#include "core/distributions.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "align/combine.hpp"
#include "align/find_balls.hpp"
#include "align/flange.hpp"
#include "align/nominal.hpp"
#include "align/targets.hpp"
#include "core/linear.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

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

namespace {

std::vector<Vec3> carried(const std::vector<Vec3>& points, const Rigid& motion) {
  std::vector<Vec3> out;
  out.reserve(points.size());
  for (const Vec3& p : points) out.push_back(motion * p);
  return out;
}

std::vector<KnownPlace> known_places(const std::vector<LocatedTarget>& targets, bool upper) {
  std::vector<KnownPlace> out;
  for (const LocatedTarget& t : targets)
    if (const auto& half = upper ? t.upper : t.lower; half && t.tool) out.push_back({half->at, *t.tool});
  return out;
}

/// Sliding in the lands' plane changes the gap where the face is steep. Flat to a hundredth of a radian and the slide
/// may be anything a dowel allows: a millimetre of it is then 0.01 mm of gap.
bool steep(const std::vector<Vec3>& lower, const LandFrame& frame) {
  const SurfacePoints s = thin_surface(lower, frame.size / 40);
  std::size_t count = 0;
  for (const Vec3& n : s.normals) count += n.cross(frame.axis).norm() > 0.01 + 3 * s.curve / std::max(s.spacing, 1e-9);
  return count > s.normals.size() / 50;  // outliers and edges are fewer than one place in fifty
}

PoseEstimate given_estimate(const Scan& lower, const AlignOptions& options) {
  PoseEstimate e{"given", Rigid::Identity(), Matrix6::Zero(), middle(lower.cloud.points)};
  // A shift of the whole half; the turn that goes with it over half the tool's size is no larger.
  const double u = std::max(options.given_u.value_or(0), 1e-4);  // a tenth of a micrometre is exact enough
  double size = 1;
  for (const Vec3& p : lower.cloud.points) size = std::max(size, (p - e.pivot).norm());
  e.information.diagonal() << Vec3::Constant(1 / (u * u)), Vec3::Constant(size * size / (u * u));
  return e;
}

/// Both halves' views of every target.
std::vector<FoundMark> marks_of(const Alignment& a, const std::vector<LocatedTarget>& targets,
                                const std::vector<Target>& wanted) {
  std::vector<FoundMark> out;
  for (const LocatedTarget& t : targets)
    for (const Target& w : wanted) {
      if (w.name != t.name) continue;
      if (t.lower) out.push_back({t.name, a.lower_to_tool * t.lower->at, w.ball, w.mask});
      if (t.upper) out.push_back({t.name, a.upper_to_tool * t.upper->at, w.ball, w.mask});
    }
  return out;
}

/// The greatest: a mask for it covers a smaller one as well.
std::optional<double> ball_size(const std::vector<Target>& wanted) {
  std::optional<double> size;
  for (const Target& w : wanted)
    if (w.ball) size = std::max(size.value_or(0), *w.ball);
  return size;
}

/// Balls of the named targets' sizes that the job does not name.
std::vector<Vec3> spare_of(const std::vector<Vec3>& points, double noise, const std::vector<LocatedTarget>& targets,
                           const std::vector<Target>& wanted, int half) {
  std::vector<Vec3> known, out;
  for (const LocatedTarget& t : targets)
    if (const auto& at = half ? t.upper : t.lower) known.push_back(at->at);
  std::set<double> sizes;
  for (const Target& w : wanted)
    if (w.ball) sizes.insert(*w.ball);
  for (const double size : sizes)
    for (const Vec3& p : spare_balls(points, noise, size, known)) out.push_back(p), known.push_back(p);
  return out;
}

/// Greatest displacement, over the lower half's corners, of a small motion.
double max_move(const std::vector<Vec3>& points, const Vector6& motion, const Vec3& pivot) {
  double most = 0;
  for (std::size_t i = 0, step = points.size() / 2000 + 1; i < points.size(); i += step)
    most = std::max(most, (motion_jacobian(points[i], pivot) * motion).norm());
  return most;
}

}  // namespace

void check_options(const AlignOptions& options) {
  if (options.methods.empty()) throw Error(Fault::input, "align: no method given; give \"targets\" or another");
  if (uses(options, AlignMethod::given) && uses(options, AlignMethod::nominal))
    throw Error(Fault::input,
                "align: \"given\" leaves the scans where they are and \"nominal\" moves them; choose one");
  // A cavity as wide as the stand-off would be taken for land, and its error fitted away.
  if (uses(options, AlignMethod::flange) && options.flange.empty() && options.stand_off > 0)
    throw Error(
        Fault::input,
        "align: with a stand-off the lands cannot be told from the cavity; give [[align.flange]] with polygon, box "
        "or path");
  check_targets(options.targets);
}

Alignment align(const Scan& lower, const Scan& upper, const AlignOptions& options, double noise_lower,
                double noise_upper, const Progress& progress) {
  report_progress(progress, "align", 0);
  check_options(options);
  if (uses(options, AlignMethod::nominal) && (!options.nominal_lower || !options.nominal_upper))
    throw Error(Fault::input,
                "align: method \"nominal\" needs both nominal surfaces; give nominal_lower and nominal_upper");
  const bool by_targets = uses(options, AlignMethod::targets), by_given = uses(options, AlignMethod::given),
             by_flange = uses(options, AlignMethod::flange), by_nominal = uses(options, AlignMethod::nominal);
  Alignment out;
  const auto warn = [&](const std::vector<std::string>& more) {
    out.warnings.insert(out.warnings.end(), more.begin(), more.end());
  };
  FoundBalls found;
  if (options.find_ball)
    found = find_targets(lower.cloud.points, upper.cloud.points, *options.find_ball, noise_lower, noise_upper);
  const std::vector<Target>& wanted = options.find_ball ? found.targets : options.targets;
  const auto targets = locate_targets(lower, upper, wanted, noise_lower, noise_upper, progress);

  // The tool frame: the lower half on its nominal surface, else targets' tool places, else the lower scan's own.
  std::string frame_words;
  std::optional<NominalPose> low;
  if (by_nominal) {
    const auto known = known_places(targets, false);
    std::optional<Rigid> start;
    if (known.size() >= 3) start = tool_datum(targets).lower_to_tool;
    low = fit_nominal(lower.cloud.points, *options.nominal_lower, "lower", start ? &*start : nullptr, options, known,
                      noise_lower, progress);
    out.lower_to_tool = low->estimate.upper_to_tool;
    out.nominal.push_back(low->fit);
    warn(low->warnings);
    frame_words = "tool frame: the nominal lower surface's";
  } else if (!by_given) {
    const ToolDatum datum = tool_datum(targets);
    out.lower_to_tool = datum.lower_to_tool;
    frame_words = datum.words;
    out.lower_tool = datum.test;
    out.upper_tool = upper_against_tool(targets);
    warn(datum.warnings);
  }

  std::vector<PoseEstimate> estimates;
  std::optional<TargetFit> fit;
  int shared = 0;
  for (const LocatedTarget& t : targets) shared += t.lower && t.upper;
  if (by_targets || (by_flange && !by_given && !by_nominal && shared > 0)) {
    fit = fit_targets(targets, out.lower_to_tool, options.residual_limit);
    out.residuals = fit->residuals;
    out.closure = fit->test, out.left_out = fit->left_out;
    out.scale_ppm = fit->scale_ppm, out.scale_ppm_u = fit->scale_ppm_u;
    warn(fit->warnings);
    estimates.push_back({"targets", fit->fit.motion, fit->fit.information, fit->fit.pivot});
  }
  if (by_given) {
    estimates.push_back(given_estimate(lower, options));
    if (!options.given_u)
      out.warnings.push_back("align: the closed position is taken as exact, because given_u is not given");
  }
  if (by_nominal) {
    std::optional<Rigid> start;
    if (fit) start = fit->fit.motion;
    NominalPose up = fit_nominal(upper.cloud.points, *options.nominal_upper, "upper", start ? &*start : nullptr,
                                 options, known_places(targets, true), noise_upper, progress);
    out.nominal.push_back(up.fit);
    warn(up.warnings);
    // Of the upper half against the lower one: both fits err.
    const Matrix6 both = inverse_of(up.estimate.information) +
                         move_pivot(inverse_of(low->estimate.information), low->estimate.pivot, up.estimate.pivot);
    up.estimate.information = inverse_of(both);
    estimates.push_back(up.estimate);
  }

  std::optional<FlangeFit> flange;
  if (by_flange) {
    const Rigid first = estimates.empty() ? out.lower_to_tool : combine(estimates, estimates[0].pivot).upper_to_tool;
    std::vector<Vec3> balls;
    std::vector<double> keep_off;
    for (const LocatedTarget& t : targets)
      for (const Target& o : wanted)
        if (o.name == t.name && o.ball && t.lower)
          balls.push_back(out.lower_to_tool * t.lower->at), keep_off.push_back(*o.ball);
    const auto lower_in_tool = carried(lower.cloud.points, out.lower_to_tool);
    flange = fit_flange(lower_in_tool, upper.cloud.points, first, options, balls, keep_off);
    const LandFrame& frame = flange->lands.frame;
    if (fit && !by_targets) estimates = {in_plane_only(estimates[0], frame)};
    if (by_given && !options.given_u) estimates = {in_plane_only(estimates[0], frame)};
    if (estimates.empty()) {
      if (!options.in_plane_u && steep(lower_in_tool, frame))
        throw Error(
            Fault::measurement,
            "align: the flange leaves the upper half free to slide along its plane and to turn about its normal, "
            "and the gap depends on that where the face is steep; add targets, method \"nominal\" or \"given\", "
            "or declare in_plane_u");
      // On a flat face a millimetre either way is nothing.
      estimates.push_back(in_plane_known(first, frame, options.in_plane_u.value_or(1)));
    }
    estimates.push_back(flange->estimate);
  }

  const Combination all = combine(estimates, estimates[0].pivot);
  out.upper_to_tool = all.upper_to_tool;
  out.pivot = all.pivot;
  out.covariance = inverse_of(all.information);
  if (by_given && estimates.size() == 1) {  // as declared: the same everywhere, so no turns
    const double u = options.given_u.value_or(0);
    out.covariance.setZero();
    out.covariance.topLeftCorner<3, 3>() = u * u * Eigen::Matrix3d::Identity();
  }
  out.chi2 = all.chi2, out.dof = all.dof;
  for (std::size_t i = 0; i < estimates.size(); ++i) {
    if (i) out.method += " + ";
    out.method += estimates[i].name;
    if (estimates.size() > 1)
      out.methods.push_back(
          {estimates[i].name, all.fraction[i], max_move(lower.cloud.points, all.difference[i], all.pivot)});
  }
  if (fit) out.method += ": " + std::to_string(fit->residuals.size()) + " targets seen in both halves";
  if (by_given) out.method += ": both scans share the tool frame, closed";
  if (!frame_words.empty()) out.method += "; " + frame_words;

  if (all.dof > 0 && all.chi2 > chi2_limit(all.dof, 3)) {
    const auto odd = std::max_element(all.fraction.begin(), all.fraction.end()) - all.fraction.begin();
    double most = 0;
    for (const MethodPart& m : out.methods) most = std::max(most, m.moved);
    char text[400];
    std::snprintf(
        text, sizeof text,
        "align: %s and the other method disagree by up to %.3f mm (chi-square %.0f, at most %.0f expected); check "
        "the lands for dirt, the stand-off, and the targets' seats; the registration's uncertainty is raised to "
        "cover both",
        estimates[odd].name.c_str(), most, all.chi2, chi2_limit(all.dof, 3));
    out.warnings.push_back(text);
    // The truth may be where either of them says (GUM 4.3.7: anywhere between, so the difference squared over three).
    for (const Vector6& d : all.difference) out.covariance += d * d.transpose() / 3;
  }
  if (flange) {
    look_again(*flange, out.upper_to_tool, out.covariance, out.pivot);
    out.flange = flange->contact;
    for (std::size_t i = 0; i < out.methods.size(); ++i)
      for (const LandPlace& p : flange->lands.places)
        out.methods[i].lift += p.normal.dot(motion_jacobian(p.at, all.pivot) * all.difference[i]) /
                               static_cast<double>(flange->lands.places.size());
    warn(flange->warnings);
    char text[120];
    std::snprintf(text, sizeof text, "; flange at %.3g mm stand-off, %d of %d places carry", options.stand_off,
                  flange->contact.carrying, flange->contact.places);
    out.method += text;
  }
  // After the combination, not of the targets' own fit: what is shown must be what is used.
  double square = 0;
  for (TargetResidual& r : out.residuals) {
    for (const LocatedTarget& t : targets)
      if (t.name == r.name) r.residual = out.upper_to_tool * t.upper->at - out.lower_to_tool * t.lower->at;
    square += r.residual.squaredNorm() / out.residuals.size();
  }
  out.fit_rms = std::sqrt(square);
  out.marks = marks_of(out, targets, wanted);
  const double noise[2] = {noise_lower, noise_upper};
  for (int half = 0; half < 2; ++half) {
    const std::vector<Vec3>& points = (half ? upper : lower).cloud.points;
    if (!options.find_ball) found.spare[half] = spare_of(points, noise[half], targets, wanted, half);
    for (const Vec3& p : found.spare[half])
      out.marks.push_back({std::string("ball without a name, ") + (half ? "upper" : "lower") + " half",
                           (half ? out.upper_to_tool : out.lower_to_tool) * p,
                           options.find_ball ? options.find_ball : ball_size(wanted),
                           {}});
  }
  report_progress(progress, "align", 1);
  return out;
}

}  // namespace gapfront
