#include "cavity/fit_uncertainty.hpp"
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace gapfront::cavity {

namespace {

/// The inner of the two neighbourhoods that truncation is judged by, and the share of a fourth-order error that the
/// difference between their centres shows: the error goes with the fourth power of the radius.
struct Inner {
  double radius = 0, fraction = 0;  ///< radius in radii of the whole
  double slope_fraction = 0;        ///< the same of a third-order error of the slope, which goes with the square
  Eigen::Index count = 0;
};

/// Half the area where that leaves points enough for the same kind of fit, else three quarters of it: a plane inside
/// a quadric would show the bow of the face and not what the quadric leaves out. Its distance weights 1 − ρ² replace
/// the weights of the whole.
Inner inner_of(Scratch& s, int enough) {
  Inner inner;
  for (double t2 : {0.5, 0.75}) {
    inner = {std::sqrt(t2), 1 - t2 * t2, 1 - t2, 0};
    Pack count = Pack::Zero();
    for (Eigen::Index i = 0; i < s.used; i += 4) {
      const Pack u = pack(s.u, i), v = pack(s.v, i);
      const Pack w = above(pack(s.weight, i)) * (1 - (u * u + v * v) * float(1 / t2)).max(0.0f);
      pack(s.inner_weight, i) = w;
      count += above(w);
    }
    inner.count = Eigen::Index(sum(count));
    if (inner.count >= enough) break;
  }
  return inner;
}

/// Most that a misfit moves the centre, in root mean squares of its residuals. A quadric over a disc with weights
/// 1 − ρ² leaves ρ⁴ − 0.8 ρ² + 0.1 of ρ⁴ (moments of the disc): 0.1 at the centre, 1/√300 in root mean square, which is
/// a ratio of √3; uneven points add some.
constexpr double kCentreByResidual = 2.5;

/// Standard uncertainty of the centre per standard deviation of what cubic and quartic leave beyond the noise. On right
/// angles rounded by 0 to 1.3 spacings the centre errs by 0 to 1.8 of it, by place (own trial, `narrow.cpp` in the
/// tests makes it again); 0.9, beside the scatter's own share, covers that twice.
constexpr double kCentreByRest = 0.9;

double square(double x) { return x * x; }

/// What of the variance of errors with correlation exp(−d²/2L²) is left in a fit over a disc of radius r with weights
/// 1 − ρ², by L/r: ∫∫ k(x) k(y) exp(−|x − y|²/2L²) with the kernel k of the value at the centre of a quadric or a
/// plane, of its slope (times r²), and of the difference between the inner half of the disc and all of it. Integrated
/// on a grid of 81 × 81 (own calculation; a test makes the first again).
constexpr std::array<double, 16> kLengthInRadii{0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6,
                                                0.8,  1,   1.25, 1.5, 2,   3,   4,   6};
constexpr std::array<double, 16> kQuadricKeeps{0.0236, 0.0897, 0.1869, 0.3007, 0.5273, 0.7039, 0.8195, 0.8893,
                                               0.955,  0.9793, 0.9909, 0.9954, 0.9985, 0.9997, 0.9999, 1};
constexpr std::array<double, 16> kPlaneKeeps{0.0066, 0.026,  0.0566, 0.0966, 0.1952, 0.304,  0.409,  0.5023,
                                             0.6468, 0.7436, 0.8208, 0.8691, 0.9224, 0.9641, 0.9795, 0.9908};
constexpr std::array<double, 16> kSlopeKeeps{0.0295, 0.1119, 0.2328, 0.3738, 0.6473, 0.8359, 0.9164, 0.913,
                                             0.787,  0.6317, 0.4728, 0.3589, 0.2212, 0.1052, 0.0606, 0.0274};
constexpr std::array<double, 16> kBetweenKeeps{0.0138, 0.0443, 0.0715, 0.083, 0.0646, 0.0337, 0.0149, 0.0063,
                                               0.0012, 0.0003, 0.0001, 0,     0,      0,      0,      0};

/// Linear between the table's lengths; below them with the square of the length, above them constant.
double kept_of(const std::array<double, 16>& table, double length) {
  if (length <= kLengthInRadii.front()) return table.front() * square(length / kLengthInRadii.front());
  if (length >= kLengthInRadii.back()) return table.back();
  const auto k = std::upper_bound(kLengthInRadii.begin(), kLengthInRadii.end(), length) - kLengthInRadii.begin();
  const double t = (length - kLengthInRadii[k - 1]) / (kLengthInRadii[k] - kLengthInRadii[k - 1]);
  return table[k - 1] + t * (table[k] - table[k - 1]);
}

/// Errors of fits that share errors of length L are alike over a length of their own: as those of fits over discs of
/// this radius, whose correlation is exp(−1/2) at 0.39 of it (`fit_correlation`).
double alike_radius(double length, double radius) { return std::max(radius, std::hypot(length / 0.39, radius)); }

/// What a bend that the quadric rounds off is worth with its cubic and quartic: they are put into the patch. What even
/// they leave beyond the noise moves the centre in proportion.
void judge_bend(const Surface& surface, double chance, const Scratch& s, Patch& patch) {
  const Pattern& bend = patch.pattern;
  const double r = patch.radius, noise = surface.noise(), shared2 = square(surface.shared().sigma);
  patch.c0 += bend.centre;
  patch.slope += bend.slope / r;
  patch.unresolved = bend.spread > chance;
  const double beyond2 = std::max(0.0, square(bend.spread) - square(noise) - shared2);
  const double sigma2 = patch.unresolved ? square(bend.spread) - shared2 : square(noise);
  patch.u = std::sqrt(sigma2 * bend.centre2 + shared2 * kept_of(kQuadricKeeps, surface.shared().length / r) +
                      square(kCentreByRest) * beyond2);
  patch.u_slope = std::sqrt(sigma2 * bend.slope2 + shared2 * kept_of(kSlopeKeeps, surface.shared().length / r)) / r;
  patch.fit_area = std::numbers::pi * r * r / (double(s.used) * bend.centre2);
  if (bend.centre2 > 1 || bend.spread > 0.5 * surface.spacing() + 3 * noise) patch.ok = false;
}

}  // namespace

void judge_fit(const Quadric& fit, const Misfit& misfit, const Surface& surface, Scratch& s, Patch& patch) {
  const double r = patch.radius, noise = surface.noise();
  const double dof = double(s.used) - (fit.plane ? 3 : 6);
  const double spread = dof > 0 ? std::sqrt(misfit.squares / misfit.weights * double(s.used) / dof) : noise;
  // The scan's noise, unless the points here scatter by more than chance: the larger of the two, always, would be too
  // large by 3 % on average.
  // Shared errors are counted by themselves.
  const SharedNoise& shared = surface.shared();
  const double shared2 = square(shared.sigma), in_radii = shared.length / r;
  const double chance = std::hypot(noise, shared.sigma) * (1 + 2 / std::sqrt(2 * std::max(dof, 1.0)));
  if (spread > chance) patch.pattern = pattern_of(fit, misfit, s);
  if (patch.pattern.shown) return judge_bend(surface, chance, s, patch);
  const double sigma = spread > chance ? std::sqrt(square(spread) - shared2) : noise;
  const int enough = fit.plane ? kEnoughForPlane : kEnoughForQuadric;
  const Inner within = inner_of(s, enough);
  const Quadric inner = fit_quadric(s, s.inner_weight, fit.plane, 1);
  const bool compare = inner.ok && within.count >= enough;
  const Vector6 centre = fit.inverse.col(0), along = fit.inverse.col(1), across = fit.inverse.col(2),
                inner_centre = inner.inverse.col(0);
  const bool bowed = !patch.H.isZero(0);
  Pack row2 = Pack::Zero(), along2 = row2, across2 = row2, between2 = row2, shift = row2;
  for (Eigen::Index i = 0; i < s.used; i += 4) {
    const Pack u = pack(s.u, i), v = pack(s.v, i), w = pack(s.weight, i);
    const Pack a = w * polynomial(centre, u, v);
    row2 += a * a;
    along2 += (w * polynomial(along, u, v)).square();
    across2 += (w * polynomial(across, u, v)).square();
    if (bowed) shift += a * quartic(patch.H, Pack(float(r) * u), Pack(float(r) * v));
    if (compare) between2 += (pack(s.inner_weight, i) * polynomial(inner_centre, u, v) - a).square();
  }
  // A plane in place of a quadric: its bow, judged by the scatter, is not known to better than itself.
  double truncation2 = fit.plane ? square(spread) : 0;
  // What moves the centre shows in the residuals too; noise of its own size may hide as much again.
  const double most2 = square(kCentreByResidual * spread);
  if (compare) {
    // Differences within two of their own standard deviations are noise that is counted already.
    const double d = inner.coefficients(0) - fit.coefficients(0);
    Truncation& t = patch.truncation;
    t.seen2 = d * d / square(within.fraction);
    t.noise2 = (sigma * sigma * sum(between2) + shared2 * kept_of(kBetweenKeeps, in_radii)) / square(within.fraction);
    t.counted2 = std::min(most2, std::max(0.0, t.seen2 - 4 * t.noise2));
    truncation2 += t.counted2;
    // The variance of the slopes' difference is by the moments of an even disc with weights 1 − ρ²: (1/t² − 3 + 2t) of
    // the whole's for an inner disc of t of its area. The slope matters only where the faces are far from parallel.
    const double part = square(within.radius), per = 1 / (within.slope_fraction * r);
    patch.slope_shown = per * (inner.coefficients - fit.coefficients).segment<2>(1);
    patch.slope_shown_noise2 =
        square(per) * (sigma * sigma * 0.5 * (sum(along2) + sum(across2)) + shared2 * kept_of(kSlopeKeeps, in_radii)) *
        (1 / square(part) - 3 + 2 * part);
  } else {
    // Too few points for two radii: the misfit beyond the noise, at its worst.
    truncation2 += std::max(0.0, most2 - square(kCentreByResidual * noise));
  }
  // How far real faces are from constant curvature is unknown; a fifth of the correction covers bends whose other
  // curvature varies (a torus, from the tests) and is next to nothing at radii above 15 spacings.
  truncation2 += 0.04 * square(sum(shift));
  const double own2 = sigma * sigma * sum(row2);
  const double alike2 = shared2 * kept_of(fit.plane ? kPlaneKeeps : kQuadricKeeps, in_radii);
  patch.u = std::sqrt(own2 + alike2 + truncation2);
  // An even scan has one point per 1/N of the disc; the fit's variance is that of 1/row2 points.
  patch.fit_area = std::numbers::pi * r * r / (double(s.used) * sum(row2));
  if (alike2 > 0)
    patch.fit_area =
        (own2 * patch.fit_area + alike2 * std::numbers::pi * square(alike_radius(shared.length, r)) / 4.8) /
        (own2 + alike2);
  patch.u_slope =
      std::sqrt(square(sigma) * std::max(sum(along2), sum(across2)) + shared2 * kept_of(kSlopeKeeps, in_radii)) / r;
  // More than one point's own noise at the foot: the fit reaches out beyond its points. Residuals of half a spacing
  // beyond the noise: the points are not one wall.
  if (sum(row2) > 1 || spread > 0.5 * surface.spacing() + 3 * noise) patch.ok = false;
}

}  // namespace gapfront::cavity
