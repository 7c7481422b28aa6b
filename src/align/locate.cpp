// Targets found in the scans.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <set>

#include "align/dowel.hpp"
#include "align/long_errors.hpp"
#include "align/other_ball.hpp"
#include "align/targets.hpp"
#include "align/touched.hpp"
#include "core/parallel.hpp"
#include "gapfront/error.hpp"

namespace gapfront::align {
namespace {

// With neither noise nor u known, targets still need weights; a micrometre is below any scanner, so it can only say
// "all alike" — what the residuals then show inflates it.
constexpr double kLeast = 0.001;
// Of exact data, mm²: still invertible.
constexpr double kExact = kLeast * kLeast * 1e-6;

// A fit of given radius finds a ball that is up to a twentieth larger or smaller.
constexpr double kAsGiven = 0.05;
// Two free fits of one ball, each on a cap with a few hundred points, agree to 0.1 mm of 20 mm at a noise of 0.05 mm.
constexpr double kSameBall = 0.005;

// The balls tell the size of shared errors to a quarter (a test draws it).
constexpr double kBeyondDeclared = 1.25;

std::string place_words(const Vec3& p) {
  char text[96];
  std::snprintf(text, sizeof text, "(%.1f, %.1f, %.1f) mm", p.x(), p.y(), p.z());
  return text;
}

Error not_there(const Target& target, bool upper) {
  const Vec3& place = upper ? target.upper->at : target.lower->at;
  const char* half = upper ? "upper" : "lower";
  char reach[32];
  std::snprintf(reach, sizeof reach, "%.1f", target.ball ? 0.6 * *target.ball : 1.2 * *target.dowel);
  const char* what = target.ball ? ": no ball of that diameter within "
                                 : ": no dowel or hole of that diameter, on a land and seen around, within ";
  return Error(Fault::measurement, "target " + target.name + what + reach + " mm of " + place_words(place) +
                                       " in the " + half + " half; check place, diameter and unit, or scan it again");
}

/// Nothing where no ball or dowel is near the place.
std::optional<Located> locate(const Scan& scan, const Target& target, const Vec3& place, double noise) {
  Located found;
  found.at = place;
  found.declared = target.u.has_value();
  found.known = target.ball || target.dowel || target.u;
  if (target.ball) {
    const SphereFit fit = fit_sphere(scan.cloud.points, place, {.radius = *target.ball / 2, .noise = noise});
    if (fit.used == 0) return std::nullopt;
    take_ball(found, fit, target);
  }
  if (target.dowel) {
    const DowelFit fit = fit_dowel(scan.cloud.points, place, *target.dowel, noise);
    if (fit.used == 0) return std::nullopt;
    found.at = fit.point, found.form = fit.rms, found.points = fit.used;
    found.cov = fit.covariance + kExact * Eigen::Matrix3d::Identity();
  }
  if (target.u)
    found.cov = *target.u * *target.u * Eigen::Matrix3d::Identity();
  else if (!target.ball && !target.dowel)
    found.cov = std::pow(std::max(noise, kLeast), 2) * Eigen::Matrix3d::Identity();
  return found;
}

/// Balls and dowels that are where the job has them in the other half.
int found_exchanged(const Scan& lower, const Scan& upper, const std::vector<Target>& targets, const PointNoise& noise) {
  int out = 0;
  for (const Target& t : targets)
    out += (t.ball || t.dowel) && !t.touched && t.lower && t.upper && locate(upper, t, t.lower->at, noise.upper) &&
           locate(lower, t, t.upper->at, noise.lower);
  return out;
}

/// The places of one half's targets in its scan, touched ones apart.
std::vector<std::optional<Located>> locate_all(const Scan& scan, const std::vector<Target>& targets, bool upper,
                                               double noise, const Rigid& motion) {
  std::vector<std::optional<Located>> out(targets.size());
  for (std::size_t i = 0; i < targets.size(); ++i)
    if (const auto& at = upper ? targets[i].upper : targets[i].lower; at && !targets[i].touched)
      out[i] = locate(scan, targets[i], motion * at->at, noise);
  return out;
}

/// How many balls of a half have places in the job, and how many are there.
std::pair<int, int> balls_there(const std::vector<Target>& targets, bool upper,
                                const std::vector<std::optional<Located>>& found) {
  std::pair<int, int> out{0, 0};
  for (std::size_t i = 0; i < targets.size(); ++i)
    if (const Target& t = targets[i]; t.ball && !t.touched && (upper ? t.upper : t.lower))
      ++out.first, out.second += found[i].has_value();
  return out;
}

/// Looks for the targets of a half where the pattern of its balls says, if they are not where the job has them.
void follow_scan(const Scan& scan, const std::vector<Target>& targets, bool upper, double noise,
                 std::vector<std::optional<Located>>& found) {
  const auto [wanted, there] = balls_there(targets, upper, found);
  if (wanted < 3 || there >= 3) return;
  const auto motion = motion_of_scan(scan, targets, upper, noise);
  if (!motion) return;
  auto again = locate_all(scan, targets, upper, noise, *motion);
  if (balls_there(targets, upper, again).second < 3) return;
  found = std::move(again);
  for (auto& f : found)
    if (f) f->moved = true;
}

void look_at(Located& ball, const Scan& scan, double radius, double noise) {
  SeenBall seen;
  seen.near = points_within(scan.cloud.points, ball.at, kSeenOf * radius);
  seen.size = measure_ball(seen.near, ball.at, radius, noise);
  ball.seen = std::make_shared<const SeenBall>(std::move(seen));
}

/// Balls of another size than the job's. What a fit with the job's finds on one has few of the points about it; where a
/// scan lies otherwise, only such places are known.
std::vector<std::optional<BallSize>> other_balls(const Scan& scan, const std::vector<Target>& targets, bool upper,
                                                 double noise, std::vector<std::optional<Located>>& found) {
  const bool moved = std::any_of(found.begin(), found.end(), [](const auto& f) { return f && f->moved; });
  std::vector<std::optional<BallSize>> out(targets.size());
  parallel_for(
      targets.size(),
      [&](std::size_t i) {
        const Target& t = targets[i];
        const auto& at = upper ? t.upper : t.lower;
        if (!at || !t.ball || t.touched || (!found[i] && moved)) return;
        const double radius = *t.ball / 2;
        if (found[i]) look_at(*found[i], scan, radius, noise);
        const auto here = found[i] ? found[i]->seen->size : std::nullopt;
        const auto off = [&](const MeasuredBall& b) { return std::abs(b.fit.radius - radius) / radius; };
        if (here && here->share >= kLeastShare && off(*here) <= kMostOff) return;
        const auto ball = other_ball(scan.cloud.points, found[i] ? found[i]->at : at->at, *t.ball, noise);
        // A place that shows a ball is doubted only where it is clearly another. One that shows none leans on the ball
        // and on what stands beside it.
        if (!ball || (here && off(*ball) <= kMostOff)) return;
        if (found[i] && off(*ball) <= kAsGiven) {
          auto again = locate(scan, t, ball->fit.centre, noise);
          if (again) again->moved = moved, look_at(*again, scan, radius, noise);
          if (again) found[i] = std::move(again);
          return;
        }
        found[i].reset();
        out[i] = {t.name, upper, *t.ball, 2 * ball->fit.radius, ball->u, ball->fit.centre};
      },
      1);
  return out;
}

/// One half's other balls, and what it has of its targets.
struct HalfSeen {
  std::vector<std::optional<Located>> found;
  std::vector<std::optional<BallSize>> other;
  /// A ball that shows its diameter; else null.
  const MeasuredBall* measured(std::size_t i) const {
    if (!found[i] || !found[i]->seen) return nullptr;
    const auto& size = found[i]->seen->size;
    return size && size->share >= kLeastShare ? &*size : nullptr;
  }
};

/// It is one ball in both halves: where the other half shows another, this one's is measured as well. That diameter
/// where it is the job's; else none, and the ball is no target here either.
std::optional<double> measure_beside(const Target& t, std::size_t i, HalfSeen& half, bool upper,
                                     const BallSize& elsewhere) {
  const MeasuredBall* ball = half.measured(i);
  if (!ball) return std::nullopt;
  const double measured = 2 * ball->fit.radius;
  if (std::abs(measured - *t.ball) <= std::abs(measured - elsewhere.measured)) return measured;
  half.other[i] = {t.name, upper, *t.ball, measured, ball->u, ball->fit.centre};
  half.found[i].reset();
  return std::nullopt;
}

/// The balls of a half whose diameters are not the job's, where a fit with the job's was good or where none was.
std::vector<BallSize> sizes_off(const std::vector<Target>& targets, const HalfSeen& half, bool upper) {
  std::vector<BallSize> out;
  for (std::size_t i = 0; i < targets.size(); ++i)
    if (half.other[i])
      out.push_back(*half.other[i]);
    else if (const MeasuredBall* b = half.measured(i);
             b && std::abs(2 * b->fit.radius - *targets[i].ball) > kAsGiven * *targets[i].ball)
      out.push_back({targets[i].name, upper, *targets[i].ball, 2 * b->fit.radius, b->u, b->fit.centre});
  return out;
}

/// As many times the job's diameter, each.
bool off_alike(const std::vector<BallSize>& balls) {
  return std::all_of(balls.begin(), balls.end(), [&](const BallSize& b) {
    return std::abs(b.measured / b.declared - balls[0].measured / balls[0].declared) < kSameBall;
  });
}

std::string sizes_words(const std::vector<BallSize>& balls) {
  std::string out;
  char text[80];
  for (const BallSize& b : balls) {
    std::snprintf(text, sizeof text, " %.3f mm (job: %.4g mm)", b.measured, b.declared);
    out += (out.empty() ? "" : ", ") + b.name + text;
  }
  return out;
}

/// Balls of other sizes, so many that too few targets are left. One half alone points to its scan, both to the job.
std::optional<Error> other_sizes(const std::vector<Target>& targets, const HalfSeen& lower, const HalfSeen& upper) {
  const auto low = sizes_off(targets, lower, false), up = sizes_off(targets, upper, true);
  if (low.empty() && up.empty()) return std::nullopt;
  const auto fault = [](const std::string& what) { return Error(Fault::measurement, what); };
  if (low.empty() || up.empty()) {
    const std::string half = up.empty() ? "lower" : "upper", rest = up.empty() ? "upper" : "lower";
    const auto& balls = up.empty() ? low : up;
    const bool scale = balls.size() > 1 && off_alike(balls);
    return fault(
        "targets: balls of another size in the " + half + " half: " + sizes_words(balls) + "; none in the " + rest +
        " half, so leave ball in the job and " +
        (scale ? "export the " + half + " scan again in the right scale and without smoothing"
               : "look whether these balls are clean, whole and seen all round, and scan the " + half + " half again"));
  }
  const auto same = [](const BallSize& a, const BallSize& b) {
    return a.name == b.name && std::abs(a.measured - b.measured) < kSameBall * a.declared;
  };
  const bool all = std::all_of(targets.begin(), targets.end(), [&](const Target& t) {
    return !t.ball || std::any_of(low.begin(), low.end(), [&](const BallSize& b) { return b.name == t.name; });
  });
  if (low.size() == up.size() && std::equal(low.begin(), low.end(), up.begin(), same))
    return fault("targets: balls of another size, alike in both halves: " + sizes_words(low) +
                 "; measure them and correct ball in the job" +
                 (all ? ", or export both scans again in the right scale" : ""));
  return fault("targets: balls of another size, not alike in the two halves: lower " + sizes_words(low) + "; upper " +
               sizes_words(up) + "; measure the balls, correct ball where the job is wrong, and scan again the half " +
               "that shows otherwise");
}

/// Why fewer targets are there than needed.
Error too_few_there(const std::vector<LocatedTarget>& all, const std::vector<Target>& targets, const HalfSeen& lower,
                    const HalfSeen& upper) {
  if (const auto error = other_sizes(targets, lower, upper)) return *error;
  for (const bool high : {false, true})
    if (const auto [wanted, found] = balls_there(targets, high, (high ? upper : lower).found);
        wanted >= 3 && found == 0)
      return Error(Fault::measurement,
                   std::string("targets: no ball is at its place in the ") + (high ? "upper" : "lower") +
                       " half, nor could they be told by their distances; write their places as gapfront look lists "
                       "them for this scan");
  for (std::size_t i = 0; i < all.size(); ++i)
    if (all[i].lost) return not_there(targets[i], all[i].lower.has_value() || !targets[i].lower);
  return Error(Fault::measurement, "targets: fewer than three are in both halves; name further ones");
}

Message lost_note(const LocatedTarget& t) {
  const auto &low = t.other[0], &up = t.other[1];
  if (!low && !up)
    return Message(t.lower ? "warnings.target-lost-upper" : "warnings.target-lost-lower", {arg::name(t.name)});
  const BallSize& one = low ? *low : *up;
  // Its ball in the half that shows the job's, or another one again.
  const double below = low ? low->measured : t.beside, above = up ? up->measured : t.beside;
  if (low && up && std::abs(below - above) < kSameBall * one.declared)
    return Message("warnings.target-of-other-size",
                   {arg::name(t.name), arg::length((below + above) / 2, 3), arg::length(one.declared, 3)});
  if (below > 0 && above > 0)
    return Message("warnings.target-of-other-size-each",
                   {arg::name(t.name), arg::length(below, 3), arg::length(above, 3), arg::length(one.declared, 3)});
  return Message(low ? "warnings.target-of-other-size-lower" : "warnings.target-of-other-size-upper",
                 {arg::name(t.name), arg::length(one.measured, 3), arg::length(one.declared, 3)});
}

}  // namespace

void take_ball(Located& found, const SphereFit& fit, const Target& target) {
  found.at = fit.centre, found.form = fit.rms, found.points = fit.used;
  if (target.u) return;
  found.cov = fit.covariance + kExact * Eigen::Matrix3d::Identity();
  found.ball = {fit.kept, fit.radius};
}

SharedNoise share_noise(std::vector<LocatedTarget>& targets, const SharedNoise& lower, const SharedNoise& upper) {
  std::vector<BallPoints> balls;
  std::vector<std::pair<Located*, const SharedNoise*>> places;
  for (LocatedTarget& t : targets)
    for (auto* half : {&t.lower, &t.upper})
      if (*half && !(*half)->ball.from_centre.empty())
        balls.push_back((*half)->ball), places.push_back({&**half, half == &t.lower ? &lower : &upper});
  const SharedNoise noise = shared_noise(balls);
  for (std::size_t i = 0; i < balls.size(); ++i)
    if (const SharedNoise& most = stronger(noise, *places[i].second); most.sigma > 0)
      places[i].first->cov += shared_covariance(balls[i], most);
  return noise;
}

Messages notes_on(const std::vector<LocatedTarget>& targets, const SharedNoise& noise, const AlignOptions& options) {
  Messages out;
  const auto moved = [&](const auto& half) {
    return std::any_of(targets.begin(), targets.end(), [&](const auto& t) { return (t.*half) && (t.*half)->moved; });
  };
  if (moved(&LocatedTarget::lower)) out.push_back(Message("warnings.lower-scan-lies-otherwise"));
  if (moved(&LocatedTarget::upper)) out.push_back(Message("warnings.upper-scan-lies-otherwise"));
  for (const LocatedTarget& t : targets)
    if (t.lost) out.push_back(lost_note(t));
  const double declared = std::min(options.lower_errors.shared.sigma, options.upper_errors.shared.sigma);
  if (declared > 0 && noise.sigma > kBeyondDeclared * declared)
    out.push_back(Message("warnings.points-err-alike-more",
                          {arg::length(noise.sigma, 3), arg::length(noise.length, 1), arg::length(declared, 3)}));
  else if (declared == 0 && noise.sigma > 0)
    out.push_back(Message("warnings.points-err-alike", {arg::length(noise.sigma, 3), arg::length(noise.length, 1)}));
  return out;
}

void check_targets(const std::vector<Target>& targets) {
  std::set<std::string> names;
  for (const Target& t : targets) {
    if (t.name.empty()) throw Error(Fault::input, "align: a target has no name; give each target one");
    const std::string who = "target " + t.name + ": ";
    if (!names.insert(t.name).second) throw Error(Fault::input, who + "given twice; give each target its own name");
    if (t.ball && !(*t.ball > 0)) throw Error(Fault::input, who + "ball diameter is not positive; give it in mm");
    if (t.dowel && !(*t.dowel > 0)) throw Error(Fault::input, who + "dowel diameter is not positive; give it in mm");
    if (t.ball && t.dowel) throw Error(Fault::input, who + "is a ball or a dowel, not both; take one of the keys out");
    if (t.u && !(*t.u > 0)) throw Error(Fault::input, who + "uncertainty u is not positive; leave it out if unknown");
    if (t.touched && t.dowel)
      throw Error(Fault::input, who + "a dowel is not fitted to touched points; give its places, or take dowel out");
    if (t.touched) continue;
    if (!t.lower && !t.upper) throw Error(Fault::input, who + "has no place in either half; give lower and upper");
    if (!t.upper && !t.tool)
      throw Error(Fault::input, who + "has no place in the upper half; give it, or its tool place");
    if (!t.lower) throw Error(Fault::input, who + "has no place in the lower half; give it");
  }
}

std::vector<LocatedTarget> locate_targets(const Scan& lower, const Scan& upper, const std::vector<Target>& targets,
                                          const PointNoise& noise, const std::optional<double>& touch_u,
                                          const Progress& progress) {
  report_progress(progress, "align", 0);
  const auto touched_low = locate_touched(lower, targets, "lower", touch_u),
             touched_up = locate_touched(upper, targets, "upper", touch_u);
  auto low = locate_all(lower, targets, false, noise.lower, Rigid::Identity());
  auto up = locate_all(upper, targets, true, noise.upper, Rigid::Identity());
  const int there = std::min(balls_there(targets, false, low).second, balls_there(targets, true, up).second);
  // Each look goes through a whole scan.
  if (const int n = there < kEnoughTargets ? found_exchanged(lower, upper, targets, noise) : 0;
      n >= kEnoughTargets && n > there)
    throw Error(Fault::measurement, "targets: " + std::to_string(n) + " of " + std::to_string(targets.size()) +
                                        " are where the job has them in the other half, so the two scans are "
                                        "exchanged; exchange file in [lower] and [upper]");
  follow_scan(lower, targets, false, noise.lower, low);
  report_progress(progress, "align", 0.3);
  follow_scan(upper, targets, true, noise.upper, up);
  auto other_low = other_balls(lower, targets, false, noise.lower, low),
       other_up = other_balls(upper, targets, true, noise.upper, up);
  HalfSeen below{std::move(low), std::move(other_low)}, above{std::move(up), std::move(other_up)};
  const auto moved = [](const auto& f) { return f && f->moved; };
  const bool in_tool = std::count_if(targets.begin(), targets.end(), [](const Target& t) { return t.tool; }) >= 3;
  const bool keeps_frame = !in_tool && std::any_of(below.found.begin(), below.found.end(), moved);
  std::vector<LocatedTarget> all;
  for (std::size_t i = 0; i < targets.size(); ++i) {
    const Target& t = targets[i];
    std::optional<double> beside;
    if (below.other[i] && !above.other[i]) beside = measure_beside(t, i, above, true, *below.other[i]);
    if (above.other[i] && !below.other[i]) beside = measure_beside(t, i, below, false, *above.other[i]);
    LocatedTarget found{t.name, t.touched ? touched_low[i] : below.found[i], t.touched ? touched_up[i] : above.found[i],
                        t.tool};
    found.other[0] = below.other[i], found.other[1] = above.other[i], found.beside = beside.value_or(0);
    // The tool frame was the earlier lower scan's, in which the job has its seal line and ports.
    if (keeps_frame && t.lower) found.tool = t.lower->at;
    if ((t.lower && !found.lower) || (t.upper && !found.upper)) found.lost = true;
    all.push_back(std::move(found));
  }
  const auto whole = std::count_if(all.begin(), all.end(), [](const auto& t) { return t.lower && t.upper; });
  if (whole >= kEnoughTargets) return all;
  if (std::any_of(all.begin(), all.end(), [](const auto& t) { return t.lost; }))
    throw too_few_there(all, targets, below, above);
  return all;
}

}  // namespace gapfront::align
