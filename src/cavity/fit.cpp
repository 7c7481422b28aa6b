// Robust, distance-weighted local quadric, centred at the foot of a place, with its uncertainty.
#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>
#include "cavity/fit_uncertainty.hpp"
#include "cavity/patch.hpp"
#include "cavity/quadric.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {

namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;

/// Neighbourhood radius in spacings. With weights 1 − ρ² the centre of a quadric has variance 4.8 σ²/N, N = π r²:
/// 5 gives 4.9 µm for σ = 20 µm, 7.0 µm for a gap of two faces; the bar is 8 µm.
constexpr double kDefaultRadius = 5;
/// Fraction of the smaller radius of curvature that a neighbourhood may span: beyond about 0.4 terms of sixth
/// order are no longer small beside the fourth-order ones that are corrected.
constexpr double kFractionOfCurvature = 0.4;
/// Radius of the first, small fit: 2.5 spacings hold about 20 points, and are less than the 3 mm of a thin rib at 1 mm.
/// Where the noise σ is more than a fourteenth of the spacing s, so few points say too little of the curvature: its
/// standard deviation 7σ/(r² √N), N = π r²/s², shall be a quarter of the one, 0.4/(5 s), that the neighbourhood may
/// span: r = 6 (σ s²)^⅓.
double seed_radius(const Surface& surface) {
  const double s = surface.spacing();
  return std::clamp(6 * std::cbrt(surface.noise() * s * s), 2.5 * s, kDefaultRadius * s);
}
/// Tukey's cut in standard deviations; 6 keeps 98 % efficiency on clean normal noise and still drops a step.
constexpr double kTukeyCut = 6;
/// A neighbourhood that proves too wide is made narrower by this: truncation, which goes with r⁴, falls to 0.4 of
/// itself while noise grows by a quarter.
constexpr double kShrink = 0.8;
/// Narrowest neighbourhood, in spacings: about 21 points. Below it noise would rule; what truncation is left there is
/// carried in u.
constexpr double kMinRadius = 2.6;
/// A neighbourhood of no more points than this is not made narrower: two dozen must be left, as for sparse places.
constexpr int kNarrowest = int(2 * kEnoughForQuadric / (kShrink * kShrink));
/// Four steps of `shrink` lead from the widest neighbourhood to the narrowest, with two fits each; the rest is for
/// settling.
constexpr int kMaxPasses = 12;
/// Floor of the scatter in spacings, so that noise-free points are not thrown out for rounding.
constexpr double kScatterFloor = 1e-4;
/// Up to this share of the smaller radius of curvature the quartic part is below a thousandth of the radius fitted
/// (κ³r⁴/8), and what a second look at it would change is far below that.
constexpr double kNearlyFlat = 0.15;
/// A fit none of whose residuals is beyond so many standard deviations of the noise has no outliers worth cutting: of a
/// hundred points of normal noise one is beyond it in 160 fits, and Tukey's weight there is still 0.3.
constexpr double kCleanCut = 4;
/// Tilt of the first frame that a nearly flat face does not show: the neighbourhood is then narrower by a thousandth
/// one way, and the foot is found on the tilted quadric as well as on a level one. A dense, noisy scan's small patch is
/// tilted by 0.01 as a rule, and looking again would double the work.
constexpr double kSlightTilt = 0.05;
/// A scatter within this factor of the declared noise is that noise: the median of twenty points and more seldom errs
/// by as much, and a cut at 6 instead of 8 standard deviations changes nothing on normal noise.
constexpr double kPlainNoise = 1.3;

/// Two tangents perpendicular to n, chosen by n alone.
Eigen::Matrix3d frame_about(const Vec3& n) {
  Eigen::Index axis;
  n.cwiseAbs().minCoeff(&axis);
  Eigen::Matrix3d f;
  f.col(0) = n.cross(Vec3::Unit(axis)).normalized();
  f.col(1) = n.cross(f.col(0));
  f.col(2) = n;
  return f;
}

/// Puts the coefficients into the patch, in mm.
void store(const Quadric& fit, Patch& patch) {
  const auto& c = fit.coefficients;
  patch.c0 = c(0);
  patch.slope = Vector2d(c(1), c(2)) / patch.radius;
  patch.C << c(3), c(4), c(4), c(5);
  patch.C /= patch.radius * patch.radius;
}

/// Robust standard deviation of the residuals. Where even their root mean square is no more than the declared noise
/// there is nothing to be robust against, and the median need not be sought.
double scatter(const Quadric& fit, double rms, double noise, Scratch& s) {
  return rms <= kPlainNoise * noise ? rms : scatter_of(fit, s);
}

/// Small patch around `start` from the points that a wall tilted by up to atan(cone) from the hint can have here.
/// The points are projected on the axes already.
Patch seed_within(const Surface& surface, const Vec3& start, const Eigen::Matrix3d& axes, double cone, Scratch& s,
                  double& rms) {
  Patch patch;
  patch.origin = start;
  patch.axes = axes;
  const double sp = surface.spacing();
  // Three standard deviations for a point, and four for the start, which often is the foremost of many.
  const float allowance = float(0.5 * sp + 7 * surface.noise());
  for (const double reach : {seed_radius(surface), 1.6 * seed_radius(surface)}) {
    const float per2 = float(1 / (reach * reach)), rise = float(cone * reach);
    keep(reach, s, [&](const Pack& u, const Pack& v, const Pack& h) -> Pack {
      const Pack rho2 = (u * u + v * v) * per2;
      return above(allowance + rise * rho2.sqrt() - h.abs()) * (1 - rho2);
    });
    patch.radius = reach;
    patch.used = int(s.used);
    if (patch.used >= kEnoughForQuadric) break;
  }
  if (patch.used < kEnoughForPlane) return patch;
  const Quadric fit = fit_quadric(s, s.weight, patch.used < kEnoughForQuadric, 0);
  if (!fit.ok) return patch;
  store(fit, patch);
  rms = misfit_of(fit, s).rms();
  patch.scatter = scatter(fit, rms, surface.noise(), s);
  patch.ok = true;
  return patch;
}

/// The first, small patch. A cone of 30° takes any tilt that a hint may have; where it lets in another wall, the
/// residuals show it, and a cone of 17° keeps out a wall 2 spacings away.
Patch seed(const Surface& surface, const Vec3& start, const Vec3& hint, Scratch& s) {
  const Eigen::Matrix3d axes = frame_about(hint);
  project(start, axes, s);
  double rms = 0, narrow_rms = 0;
  Patch wide = seed_within(surface, start, axes, 0.6, s, rms);
  // A twentieth of the spacing is more than a small quadric leaves on any radius that can be measured at all.
  if (wide.ok && rms <= std::max(3 * surface.noise(), 0.05 * surface.spacing())) return wide;
  const Patch narrow = seed_within(surface, start, axes, 0.3, s, narrow_rms);
  return narrow.ok && (!wide.ok || narrow_rms < rms) ? narrow : wide;
}

/// Curvature that the small patch is sure of (two standard deviations taken off), 1/mm.
double sure_curvature(const Patch& patch, double noise) {
  // Standard deviation of a second derivative from N points within r: about 7 σ/(r² √N) (moments of a disc).
  const double u = 7 * std::max(noise, patch.scatter) / (patch.radius * patch.radius * std::sqrt(double(patch.used)));
  return std::max(0.0, std::abs(curvatures(patch).first) - 2 * u);
}

/// Points of the old patch's wall, in the new patch's frame, with the quartic part taken off.
/// Points far from the old patch belong to another wall, a step or clutter.
void select(const Patch& old, const Patch& next, bool first, double noise, double spacing, Scratch& s) {
  const double sigma = std::max({noise, old.scatter, kScatterFloor * spacing});
  const float per2 = float(1 / (next.radius * next.radius)), per_cut = float(1 / (kTukeyCut * sigma));
  const float allowance = float(0.25 * spacing + 10 * sigma), rise = float(0.1 * next.radius);
  project(next.origin, next.axes, s);
  // From the new frame to the old one.
  const Eigen::Matrix3f turn = (old.axes.transpose() * next.axes).cast<float>();
  const Eigen::Vector3f shift = (old.axes.transpose() * (next.origin - old.origin)).cast<float>();
  Vector6 bow;
  bow << old.c0, old.slope, old.C(0, 0), old.C(0, 1), old.C(1, 1);
  const bool bowed = !old.H.isZero(0);
  keep(next.radius, s, [&](const Pack& u, const Pack& v, const Pack& h) -> Pack {
    const Pack rho2 = (u * u + v * v) * per2;
    const auto turned = [&](int k) -> Pack { return turn(k, 0) * u + turn(k, 1) * v + turn(k, 2) * h + shift(k); };
    const Pack ou = turned(0), ov = turned(1);
    Pack off = (turned(2) - polynomial(bow, ou, ov));
    if (bowed) off -= quartic(old.H, ou, ov);
    // The small patch is extrapolated to twice its radius: a tenth of the distance covers its curvature error.
    if (first) return above(allowance + rise * rho2.sqrt() - off.abs()) * (1 - rho2);
    const Pack left = (1 - (off * per_cut).square()).max(0.0f);
    return (1 - rho2) * left * left;
  });
  if (next.H.isZero(0)) return;
  const auto r = float(next.radius);
  for (Eigen::Index i = 0; i < s.used; i += 4)
    pack(s.h, i) -= quartic(next.H, Pack(r * pack(s.u, i)), Pack(r * pack(s.v, i)));
}

/// Does a judged fit show that its neighbourhood spans too much? Either what it leaves out of the height shows beyond
/// all doubt (three standard deviations), or what it leaves out of the slope does: a cubic a x³/6 turns the slope by
/// a r²/16 (moments of a disc with weights 1 − ρ²) and makes the curvature at the rim larger by a r, and that
/// curvature, too, must not be more than the neighbourhood may span. At the inflection of a wave the one in the middle
/// is nil.
bool too_wide(const Patch& patch) {
  if (patch.pattern.shown) return patch.unresolved;
  if (patch.slope_shown_noise2 < 0) return false;
  const double r = patch.radius, turn = patch.slope_shown.norm();
  return patch.truncation.seen2 > 9 * patch.truncation.noise2 ||
         (turn * turn > 9 * patch.slope_shown_noise2 &&
          std::abs(curvatures(patch).first) * r + 16 * turn > kFractionOfCurvature);
}

/// Is the foot (the frame's origin) among its points? One-sided neighbourhoods are fine up to the last point.
bool supported(const Scratch& s, double spacing, double radius) {
  Pack nearest2 = Pack::Constant(1e6f), su = Pack::Zero(), sv = su;
  for (Eigen::Index i = 0; i < s.used; i += 4) {
    const Pack u = pack(s.u, i), v = pack(s.v, i);
    nearest2 = nearest2.min(u * u + v * v + 1e6f * (1 - above(pack(s.weight, i))));  // not of the padding
    su += u, sv += v;
  }
  const double nearest = radius * std::sqrt(nearest2.minCoeff());
  // A half disc has its centroid at 0.42 r: the foot then lies on the border of the scan.
  const bool inside = s.used > 0 && std::hypot(sum(su), sum(sv)) / double(s.used) < 0.35;
  return nearest <= 1.5 * spacing || (inside && nearest <= 2.5 * spacing);
}

}  // namespace

double fit_radius(double radius, const Surface& surface) {
  return radius > 0 ? radius : kDefaultRadius * surface.spacing();
}

Patch fit_patch(const Surface& surface, const Vec3& at, const Vec3& start, const Vec3& hint, double radius, Scratch& s,
                Width width) {
  const double sp = surface.spacing(), noise = surface.noise();
  const double wanted = fit_radius(radius, surface), most = 1.2 * wanted;
  // A place within a spacing of a point is nearer to its foot than that point.
  const Vec3& middle = (at - start).norm() < sp ? at : start;
  if (!holds(s, middle, wanted)) gather(surface, middle, kSlack * wanted, s);
  Patch patch = seed(surface, start, hint, s);
  if (!patch.ok) return patch;
  Patch wider;  // the last one judged, not ok as long as there is none
  const double curvature = sure_curvature(patch, noise);
  const double minimum = std::min(wanted, kMinRadius * sp);
  double r = std::min(wanted, std::max(minimum, kFractionOfCurvature / std::max(curvature, 1e-9)));
  bool settled = false;
  int fits = 0;
  for (int pass = 0; pass < kMaxPasses && !settled; ++pass) {
    const Foot foot = foot_on(patch, at);
    if (foot.normal.dot(hint) < 0.3) return wider;  // turned by more than 72°: another wall
    Patch next;
    next.origin = foot.point;
    next.axes = frame_about(foot.normal);
    next.radius = r;
    // Curvature in the new frame; the slope there is nil, so the old second derivatives only need turning.
    if (fits > 0) {
      const Matrix2d turn = (next.axes.transpose() * patch.axes).topLeftCorner<2, 2>();
      next.H = turn * patch.C * turn.transpose();
    }
    if (!holds(s, foot.point, r)) gather(surface, foot.point, std::max(kSlack * wanted, r), s);
    select(patch, next, fits == 0, noise, sp, s);
    next.used = int(s.used);
    // Sparse places get a wider neighbourhood, by up to a fifth, until a quadric has enough to stand on.
    if (next.used < 2 * kEnoughForQuadric && r < most && fits == 0 && pass < 4) {
      r = std::min(most, 1.3 * r);
      continue;
    }
    if (next.used < kEnoughForPlane) return wider;
    const bool plain = patch.scatter <= kPlainNoise * noise && curvature * r < kNearlyFlat;
    const bool plane = next.used < kEnoughForQuadric;
    const Quadric fit = fit_quadric(s, s.weight, plane, fits > 0 || plain ? 3 : 0);
    if (!fit.ok) return wider;
    store(fit, next);
    next.ok = true;
    const Misfit misfit = misfit_of(fit, s);
    // Settled when the frame no longer moves: a hundredth of the radius shifts the weights by less than 1e-4. On a
    // face that is nearly flat and as even as its noise, a third fit would repeat the second, and the second the first
    // if that has no point to cut.
    const double moved = (foot.point - patch.origin).norm(), tilted = next.slope.norm();
    const bool nothing_to_cut = plain && misfit.most <= kCleanCut * noise;
    settled = fits == 0 ? nothing_to_cut && tilted < kSlightTilt
                        : tilted < 0.01 && fits >= (plain ? 1 : 2) && moved < 0.01 * r;
    ++fits;
    if (settled || pass == kMaxPasses - 1) {
      next.ok = supported(s, sp, r);
      judge_fit(fit, misfit, surface, s, next);
      if (width == Width::judged && pass < kMaxPasses - 1 && r > minimum && next.used > kNarrowest && too_wide(next)) {
        // Curvature at the middle said nothing of it, as between the crest and the trough of a wave.
        settled = false;
        wider = next;
        r = std::max(minimum, kShrink * r);
      }
    }
    // The next selection cuts by it; of the last patch the plain one is enough.
    next.scatter = settled ? misfit.rms() : scatter(fit, misfit.rms(), noise, s);
    patch = next;
  }
  if (!settled && patch.u == 0) patch.ok = false;
  // At the rim of a scan a narrower neighbourhood may be left without support.
  return patch.ok ? patch : wider;
}

LocalFit fit_local(const Surface& surface, const Vec3& at, const Vec3& hint, double radius) {
  if (!(hint.norm() > 0) || !at.allFinite())
    throw Error(Fault::input, "fit_local: place or normal hint is not finite or nil; give a unit normal");
  cavity::Scratch scratch;
  const Vec3 start = surface.nearest(at).point;
  const cavity::Patch patch = cavity::fit_patch(surface, at, start, hint.normalized(), radius, scratch);
  LocalFit fit;
  fit.ok = patch.ok;
  fit.used = patch.used;
  if (!patch.ok) return fit;
  const cavity::Foot foot = cavity::foot_on(patch, at);
  fit.point = foot.point;
  fit.normal = foot.normal;
  fit.u = patch.u;
  std::tie(fit.k1, fit.k2) = cavity::curvatures(patch);
  return fit;
}

}  // namespace gapfront::cavity
