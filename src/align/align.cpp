#include "gapfront/align.hpp"

#include <algorithm>
#include <cmath>

#include "align/ball_size.hpp"
#include "align/combine.hpp"
#include "align/find_balls.hpp"
#include "align/flange.hpp"
#include "align/long_errors.hpp"
#include "align/marks.hpp"
#include "align/nominal.hpp"
#include "align/supports.hpp"
#include "align/targets.hpp"
#include "align/touched.hpp"
#include "core/distributions.hpp"
#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront {
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

std::vector<align::KnownPlace> known_places(const std::vector<align::LocatedTarget>& targets, bool upper) {
  std::vector<align::KnownPlace> out;
  for (const align::LocatedTarget& t : targets)
    if (const auto& half = upper ? t.upper : t.lower; half && t.tool) out.push_back({half->at, *t.tool});
  return out;
}

/// register_halves(), step by step: what it is given, and what has been found so far.
class Registration {
 public:
  Registration(const Scan& lower, const Scan& upper, const AlignOptions& options, const PointNoise& noise,
               const Progress& progress)
      : scans_{&lower, &upper},
        lower_(lower.cloud.points),
        upper_(upper.cloud.points),
        options_(options),
        noise_{noise.lower, noise.upper},
        progress_(progress),
        by_targets_(align::uses(options, AlignMethod::targets)),
        by_given_(align::uses(options, AlignMethod::given)),
        by_flange_(align::uses(options, AlignMethod::flange)),
        by_nominal_(align::uses(options, AlignMethod::nominal)),
        by_datum_(align::uses(options, AlignMethod::datum)) {
    if (options.find_ball) found_ = align::find_targets(lower_, upper_, *options.find_ball, noise);
    wanted_ = options.find_ball ? found_.targets : options.targets;
    targets_ = align::locate_targets(lower, upper, wanted_, noise, options.touch_u, progress);
    measure_balls(noise);
    out_.shared_noise = align::share_noise(targets_, options.lower_errors.shared, options.upper_errors.shared);
    warn(align::notes_on(targets_, out_.shared_noise, options));
    out_.fields = align::fields_between(options.lower_errors, options.upper_errors);
    align::count_places(targets_, options.lower_errors, options.upper_errors);
    align::count_fields(targets_, 0.5 * align::field_variance(out_.fields));
  }
  void measure_balls(const PointNoise& noise);
  void place_lower_half();
  void ask_targets();
  void see_fields();
  void ask_given();
  void ask_datum();
  void ask_nominal();
  void ask_flange();
  void combine_estimates();
  void find_supports();
  void name_methods();
  void test_agreement();
  void count_ball_sizes();
  void settle_on_flange();
  void show_residuals();
  void show_marks();
  Alignment result() { return std::move(out_); }

 private:
  void warn(const Messages& more) { out_.warnings.insert(out_.warnings.end(), more.begin(), more.end()); }

  const Scan* const scans_[2];  ///< lower, upper
  const std::vector<Vec3>&lower_, &upper_;
  const AlignOptions& options_;
  const double noise_[2];  ///< lower, upper
  const Progress& progress_;
  const bool by_targets_, by_given_, by_flange_, by_nominal_, by_datum_;
  align::FoundBalls found_;
  std::vector<Target> wanted_;
  std::vector<align::LocatedTarget> targets_;
  std::vector<align::LocatedTarget> by_job_;  ///< with the job's diameters, where measured ones are used; else none

  Alignment out_;
  Message frame_;                               ///< where the tool frame comes from
  std::optional<align::NominalPose> low_, up_;  ///< the halves on their nominal surfaces
  std::optional<align::DatumPose> datum_;
  std::optional<align::TargetFit> fit_;
  std::optional<align::FlangeFit> flange_;
  std::vector<align::PoseEstimate> estimates_;
  align::Combination all_;
};

/// Residuals of balls of the wrong size look like errors that neighbouring points share: so this comes before them.
void Registration::measure_balls(const PointNoise& noise) {
  auto by_job = targets_;
  align::BallSizes sizes = align::check_ball_sizes(targets_, wanted_, noise, options_.seat_play);
  out_.wrong_balls = std::move(sizes.doubts);
  warn(sizes.notes);
  if (sizes.fitted) by_job_ = std::move(by_job);
}

/// The tool frame: the lower half on its nominal surface, else targets' tool places, else the datum system, else the
/// lower scan's own.
void Registration::place_lower_half() {
  if (by_datum_) {
    datum_ = align::fit_datum(*scans_[0], *scans_[1], options_);
    warn(datum_->warnings);
  }
  if (by_nominal_) {
    const auto known = known_places(targets_, false);
    std::optional<Rigid> start;
    if (known.size() >= 3) start = align::tool_datum(targets_).lower_to_tool.motion;
    low_ = align::fit_nominal(lower_, *options_.nominal_lower, false, start ? &*start : nullptr, options_, known,
                              noise_[0], progress_);
    out_.lower_to_tool = {low_->estimate.upper_to_tool};
    out_.nominal.push_back(low_->fit);
    warn(low_->warnings);
    if (!low_->converged) out_.unsettled.push_back(Message("doubt.fit-lower-half-did-not-settle"));
    frame_ = Message("proof.tool-frame-nominal-lower");
  } else if (!by_given_) {
    const align::ToolDatum datum = align::tool_datum(targets_);
    out_.lower_to_tool = datum.lower_to_tool;
    frame_ = datum.said;
    out_.lower_tool = datum.test;
    out_.upper_tool = align::upper_against_tool(targets_);
    warn(datum.warnings);
    if (datum_ && known_places(targets_, false).size() < 3) {
      out_.lower_to_tool = datum_->lower_to_frame;
      frame_ = Message("proof.tool-frame-datum");
    }
  }
}

/// Beside the flange they also serve where they are no method of their own: they say where along the lands.
void Registration::ask_targets() {
  int shared = 0;
  for (const align::LocatedTarget& t : targets_) shared += t.lower && t.upper;
  if (!by_targets_ && !(by_flange_ && !by_given_ && !by_nominal_ && shared > 0)) return;
  fit_ = align::fit_targets(targets_, out_.lower_to_tool, options_);
  see_fields();
  out_.residuals = fit_->residuals;
  out_.closure = fit_->test, out_.left_out = fit_->left_out, out_.rest_suffices = fit_->rest_suffices;
  out_.scale_ppm = fit_->scale_ppm, out_.scale_ppm_u = fit_->scale_ppm_u;
  warn(fit_->warnings);
  if (!fit_->fit.converged) out_.unsettled.push_back(Message("doubt.fit-targets-did-not-settle"));
  estimates_.push_back({"targets", fit_->fit.motion, fit_->fit.information, fit_->fit.pivot});
}

/// Where the targets show larger fields than are declared, these are counted, and the fit made again with them. Whether
/// the targets agree stays judged by what was declared.
void Registration::see_fields() {
  const auto seen = align::fields_by_targets(targets_, *fit_, out_.lower_to_tool, options_, out_.fields);
  if (seen.empty()) return;
  const double declared = align::field_variance(out_.fields), variance = align::field_variance(seen);
  out_.warnings.push_back(Message(declared > 0 ? "warnings.scans-bend-more" : "warnings.scans-bend",
                                  {arg::length(fit_->rms, 3), arg::length(std::sqrt(declared), 3)}));
  align::count_fields(targets_, 0.5 * (variance - declared));
  align::TargetFit again = align::fit_targets(targets_, out_.lower_to_tool, options_);
  again.test = std::move(fit_->test);
  fit_ = std::move(again);
  out_.fields = seen, out_.fields_by_targets = true;
}

void Registration::ask_given() {
  if (!by_given_) return;
  estimates_.push_back(align::given_estimate(lower_, options_));
  if (!options_.given_u) out_.warnings.push_back(Message("warnings.align-closed-position-taken"));
}

void Registration::ask_datum() {
  if (!datum_) return;
  const Rigid to_tool = out_.lower_to_tool.motion * datum_->lower_to_frame.motion.inverse();
  Matrix6 turn = Matrix6::Zero();
  turn.topLeftCorner<3, 3>() = turn.bottomRightCorner<3, 3>() = to_tool.linear();
  const Matrix6 covariance = turn * datum_->covariance * turn.transpose();
  estimates_.push_back({"datum", to_tool * datum_->upper_to_frame, inverse_of(covariance), to_tool.translation()});
}

void Registration::ask_nominal() {
  if (!by_nominal_) return;
  std::optional<Rigid> start;
  if (fit_) start = fit_->fit.motion;
  up_ = align::fit_nominal(upper_, *options_.nominal_upper, true, start ? &*start : nullptr, options_,
                           known_places(targets_, true), noise_[1], progress_);
  out_.nominal.push_back(up_->fit);
  warn(up_->warnings);
  if (!up_->converged) out_.unsettled.push_back(Message("doubt.fit-upper-half-did-not-settle"));
  estimates_.push_back(align::upper_against_lower(*low_, *up_));
}

/// The flange speaks of sinking and two tilts; the other methods, or what is declared, of the motions in its plane.
void Registration::ask_flange() {
  if (!by_flange_) return;
  const Rigid first =
      estimates_.empty() ? out_.lower_to_tool.motion : align::combine(estimates_, estimates_[0].pivot).upper_to_tool;
  std::vector<Vec3> balls;
  std::vector<double> keep_off;
  for (const align::LocatedTarget& t : targets_)
    for (const Target& o : wanted_)
      if (const auto size = o.ball ? o.ball : o.dowel; o.name == t.name && size && t.lower)
        balls.push_back(out_.lower_to_tool * ScanPlace{t.lower->at}), keep_off.push_back(*size);
  const auto lower_in_tool = carried(lower_, out_.lower_to_tool.motion);
  flange_ = align::fit_flange(lower_in_tool, upper_, first, options_, balls, keep_off);
  if (!flange_->settled) out_.unsettled.push_back(Message("doubt.fit-lands-did-not-settle"));
  const align::LandFrame& frame = flange_->lands.frame;
  if (fit_ && !by_targets_) estimates_ = {align::in_plane_only(estimates_[0], frame)};
  if (by_given_ && !options_.given_u) estimates_ = {align::in_plane_only(estimates_[0], frame)};
  if (estimates_.empty()) {
    if (!options_.in_plane_u && align::steep(lower_in_tool, frame))
      throw Error(Fault::measurement,
                  "align: the flange leaves the upper half free to slide along its plane and to turn about its normal, "
                  "and the gap depends on that where the face is steep; add targets, method \"nominal\" or \"given\", "
                  "or declare in_plane_u");
    // On a flat face a millimetre either way is nothing.
    estimates_.push_back(align::in_plane_known(first, frame, options_.in_plane_u.value_or(1)));
  }
  estimates_.push_back(flange_->estimate);
}

void Registration::combine_estimates() {
  all_ = align::combine(estimates_, estimates_[0].pivot);
  out_.upper_to_tool = {all_.upper_to_tool};
  out_.pivot = all_.pivot;
  out_.covariance = inverse_of(all_.information);
  if (by_given_ && estimates_.size() == 1) {  // as declared: the same everywhere, so no turns
    const double u = options_.given_u.value_or(0);
    out_.covariance.setZero();
    out_.covariance.topLeftCorner<3, 3>() = u * u * Eigen::Matrix3d::Identity();
  }
  out_.chi2 = all_.chi2, out_.dof = all_.dof;
}

/// What a field does to the closed position is no part of its covariance from here on.
void Registration::find_supports() {
  if (out_.fields.empty() || (by_given_ && estimates_.size() == 1)) return;
  const Matrix6 whole = inverse_of(all_.information);
  const auto rest = [&](const align::PoseEstimate& e, std::vector<Support> supports, const Vec3& pivot,
                        double share = 1) {
    Matrix6 carry = Matrix6::Identity();
    carry.topRows<3>() = motion_jacobian(all_.pivot, pivot);
    const Matrix6 answer = whole * align::move_information(e.information, e.pivot, all_.pivot) * carry;
    for (Support& s : supports) {
      s.response = share * answer * s.response;
      if (e.name == "targets")
        out_.covariance -= align::field_variance(out_.fields) * s.response * s.response.transpose();
      out_.supports.push_back(std::move(s));
    }
  };
  for (const align::PoseEstimate& e : estimates_) {
    if (e.name == "targets") rest(e, align::supports_of(targets_, *fit_, out_.lower_to_tool), fit_->fit.pivot);
    if (e.name == "flange") rest(e, align::supports_of(*flange_), flange_->estimate.pivot);
    if (e.name == "nominal") {
      // Each half rests on its own surface and moves by its own field alone: by its share of the variance of both. That
      // is less than all of it where their datum faces do not lie opposite each other; the rest stays.
      const double of_upper = align::share_of_upper(options_.lower_errors, options_.upper_errors);
      const auto before = std::ptrdiff_t(out_.supports.size());
      rest(e, up_->supports, up_->estimate.pivot, of_upper);
      rest(e, low_->supports, low_->estimate.pivot, 1 - of_upper);
      out_.covariance -=
          align::answer_to_fields({out_.supports.begin() + before, out_.supports.end()}, out_.fields).pose;
    }
  }
}

void Registration::name_methods() {
  Messages names;
  for (std::size_t i = 0; i < estimates_.size(); ++i) {
    names.push_back(align::method_word(estimates_[i].name));
    if (estimates_.size() > 1)
      out_.methods.push_back(
          {estimates_[i].name, all_.chi2_of[i], align::max_move(lower_, all_.difference[i], all_.pivot)});
  }
  std::vector<Argument> arguments{arg::message(Message("join.sum", {names}))};
  if (fit_) arguments.push_back(static_cast<long>(fit_->residuals.size()));
  const char* id = fit_ ? (by_given_ ? "proof.targets-seen-both-halves-both" : "proof.targets-seen-both-halves")
                        : (by_given_ ? "proof.both-scans-share-tool" : "list.plain");
  out_.method = {Message(id, std::move(arguments))};
  if (!frame_.empty()) out_.method.push_back(frame_);
}

void Registration::test_agreement() {
  if (!(all_.dof > 0 && all_.chi2 > chi2_limit(all_.dof, 3))) return;
  const auto odd = std::max_element(all_.chi2_of.begin(), all_.chi2_of.end()) - all_.chi2_of.begin();
  double most = 0;
  for (const MethodPart& m : out_.methods) most = std::max(most, m.moved);
  out_.warnings.push_back(Message("warnings.align-other-method-disagree",
                                  {arg::message(align::method_word(estimates_[odd].name)), arg::length(most, 3),
                                   arg::number(all_.chi2), arg::number(chi2_limit(all_.dof, 3))}));
  // The truth may be where either of them says (GUM 4.3.7: anywhere between, so the difference squared over three).
  for (const Vector6& d : all_.difference) out_.covariance += d * d.transpose() / 3;
}

/// Which diameter is right is not known, so the truth may be where either says (as above).
void Registration::count_ball_sizes() {
  if (by_job_.empty() || !fit_ || !by_targets_) return;
  auto by_job = targets_;  // with their weights: what differs is the diameter alone
  for (std::size_t i = 0; i < by_job.size(); ++i)
    for (const auto half : {&align::LocatedTarget::lower, &align::LocatedTarget::upper})
      if (by_job[i].*half && by_job_[i].*half) (by_job[i].*half)->at = (by_job_[i].*half)->at;
  const align::TargetFit other = align::fit_targets(by_job, out_.lower_to_tool, options_);
  const Vector6 d = motion_about(other.fit.motion * fit_->fit.motion.inverse(), all_.pivot);
  out_.covariance += d * d.transpose() / 3;
}

void Registration::settle_on_flange() {
  if (!flange_) return;
  align::look_again(*flange_, out_.upper_to_tool.motion, out_.covariance, out_.pivot);
  out_.flange = flange_->contact;
  for (std::size_t i = 0; i < out_.methods.size(); ++i)
    for (const align::LandPlace& p : flange_->lands.places)
      out_.methods[i].lift += p.normal.dot(motion_jacobian(p.at, all_.pivot) * all_.difference[i]) /
                              static_cast<double>(flange_->lands.places.size());
  warn(flange_->warnings);
  out_.method.push_back(Message("proof.flange-stand-off-places",
                                {arg::length(options_.stand_off), static_cast<long>(flange_->contact.carrying),
                                 static_cast<long>(flange_->contact.places)}));
}

/// After the combination, not of the targets' own fit: what is shown must be what is used.
void Registration::show_residuals() {
  double square = 0;
  const double used = static_cast<double>(out_.residuals.size() - out_.left_out.size());
  for (TargetResidual& r : out_.residuals) {
    for (const align::LocatedTarget& t : targets_)
      if (t.name == r.name)
        r.residual = out_.upper_to_tool * ScanPlace{t.upper->at} - out_.lower_to_tool * ScanPlace{t.lower->at};
    if (std::count(out_.left_out.begin(), out_.left_out.end(), r.name) == 0) square += r.residual.squaredNorm() / used;
  }
  out_.fit_rms = std::sqrt(square);
}

void Registration::show_marks() {
  out_.marks = align::marks_of(out_, targets_, wanted_);
  align::place_balls(out_, targets_);
  if (!options_.find_ball)
    parallel_for(
        2,
        [&](std::size_t half) {
          found_.spare[half] = align::spare_of(half ? upper_ : lower_, noise_[half], targets_, wanted_, half);
        },
        1);
  for (int half = 0; half < 2; ++half)
    for (const Vec3& p : found_.spare[half])
      out_.marks.push_back({"",  // a ball that the job does not name
                            (half ? out_.upper_to_tool : out_.lower_to_tool) * ScanPlace{p},
                            options_.find_ball ? options_.find_ball : align::ball_size(wanted_),
                            {}});
}

}  // namespace

Alignment align::register_halves(const Scan& lower, const Scan& upper, const AlignOptions& options,
                                 const PointNoise& noise, const Progress& progress) {
  report_progress(progress, "align", 0);
  check_options(options);
  if (align::uses(options, AlignMethod::nominal) && (!options.nominal_lower || !options.nominal_upper))
    throw Error(Fault::input,
                "align: method \"nominal\" needs both nominal surfaces; give nominal_lower and nominal_upper");
  Registration r(lower, upper, options, noise, progress);
  r.place_lower_half();
  r.ask_targets();
  r.ask_given();
  r.ask_datum();
  r.ask_nominal();
  r.ask_flange();
  r.combine_estimates();
  r.find_supports();
  r.name_methods();
  r.test_agreement();
  r.count_ball_sizes();
  r.settle_on_flange();
  r.show_residuals();
  r.show_marks();
  report_progress(progress, "align", 1);
  return r.result();
}

}  // namespace gapfront
