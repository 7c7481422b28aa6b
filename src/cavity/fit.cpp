// Robust, distance-weighted local quadric, centred at the foot of a place, with its uncertainty.
#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <tuple>
#include "cavity/patch.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

namespace cavity {

namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;

/// Neighbourhood radius in spacings. With weights 1 − ρ² the centre of a quadric has variance 4.8 σ²/N, N = π r²:
/// 5.5 gives 4.5 µm for σ = 20 µm, 6.4 µm for a gap of two faces; the bar is 8 µm.
constexpr double default_radius = 5.5;
/// Fraction of the smaller radius of curvature that a neighbourhood may span: beyond about 0.4 terms of sixth
/// order are no longer small beside the fourth-order ones that are corrected.
constexpr double share_of_curvature = 0.4;
/// Radius in spacings of the first, small fit: about 20 points, and less than the 3 mm of a thin rib at 1 mm.
constexpr double seed_radius = 2.5;
/// Points for a full quadric: twice its 6 terms, so that the residuals still say something.
constexpr int enough_for_quadric = 12;
/// Points for a plane: twice its 3 terms.
constexpr int enough_for_plane = 6;
/// Tukey's cut in standard deviations; 6 keeps 98 % efficiency on clean normal noise and still drops a step.
constexpr double tukey_cut = 6;
/// Floor of the scatter in spacings, so that noise-free points are not thrown out for rounding.
constexpr double scatter_floor = 1e-4;

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

using Row = Eigen::Matrix<double, 6, 1>;

Row terms(double u, double v) {
  Row t;
  t << 1, u, v, 0.5 * u * u, u * v, 0.5 * v * v;
  return t;
}

/// Weighted least squares of scaled terms; `plane` leaves the second order out.
struct Solver {
  Vector6 coefficients = Vector6::Zero();
  Matrix6 inverse = Matrix6::Zero();
  bool ok = false;

  Solver(const Scratch& s, double scale, double inner, bool plane) {
    Matrix6 m = Matrix6::Zero();
    Vector6 b = Vector6::Zero();
    for (std::size_t i = 0; i < s.u.size(); ++i) {
      const double w = weight(s, i, inner);
      if (w <= 0) continue;
      const double u = s.u[i] / scale, v = s.v[i] / scale, uu = u * u, vv = v * v, h = w * s.h[i];
      const double wu = w * u, wv = w * v, wuu = w * uu, wvv = w * vv, wuv = wu * v;
      m(0, 0) += w;
      m(1, 0) += wu;
      m(2, 0) += wv;
      m(3, 0) += wuu;
      m(4, 0) += wuv;
      m(5, 0) += wvv;
      m(3, 1) += wuu * u;
      m(4, 1) += wuu * v;
      m(5, 1) += wvv * u;
      m(5, 2) += wvv * v;
      m(3, 3) += wuu * uu;
      m(4, 3) += wuu * u * v;
      m(5, 3) += wuu * vv;
      m(5, 4) += wvv * u * v;
      m(5, 5) += wvv * vv;
      b(0) += h;
      b(1) += h * u;
      b(2) += h * v;
      b(3) += h * uu;
      b(4) += h * u * v;
      b(5) += h * vv;
    }
    // The sums above are plain monomials; the terms carry a ½ at u² and v².
    m(1, 1) = m(3, 0);
    m(2, 1) = m(4, 0);
    m(2, 2) = m(5, 0);
    m(3, 2) = m(4, 1);
    m(4, 2) = m(5, 1);
    m(4, 4) = m(5, 3);
    for (int k : {3, 5}) {
      m.row(k) *= 0.5;
      m.col(k) *= 0.5;
      b(k) *= 0.5;
    }
    if (plane) {
      const Eigen::LLT<Eigen::Matrix3d> llt(m.topLeftCorner<3, 3>());
      if (llt.info() != Eigen::Success) return;
      inverse.topLeftCorner<3, 3>() = llt.solve(Eigen::Matrix3d::Identity());
    } else {
      const Eigen::LLT<Matrix6> llt(m);
      if (llt.info() != Eigen::Success) return;
      inverse = llt.solve(Matrix6::Identity());
    }
    coefficients = inverse * b;
    ok = coefficients.allFinite();
  }

  /// The distance weights of the inner neighbourhood, if one is asked for, replace those of the whole.
  static double weight(const Scratch& s, std::size_t i, double inner) {
    if (inner <= 0) return s.weight[i];
    const double rho2 = (s.u[i] * s.u[i] + s.v[i] * s.v[i]) / (inner * inner);
    return rho2 < 1 && s.weight[i] > 0 ? 1 - rho2 : 0;
  }
};

/// Puts the coefficients into the patch, in mm.
void store(const Solver& fit, double scale, Patch& patch) {
  const auto& c = fit.coefficients;
  patch.c0 = c(0);
  patch.slope = Vector2d(c(1), c(2)) / scale;
  patch.C << c(3), c(4), c(4), c(5);
  patch.C /= scale * scale;
}

double median(std::vector<double>& values) {
  const auto middle = values.begin() + std::ptrdiff_t(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Robust standard deviation of the residuals: 1.4826 × their median size (normal noise).
double scatter_of(const Solver& fit, double scale, Scratch& s) {
  s.residual.clear();
  for (std::size_t i = 0; i < s.u.size(); ++i)
    if (s.weight[i] > 0)
      s.residual.push_back(std::abs(s.h[i] - fit.coefficients.dot(terms(s.u[i] / scale, s.v[i] / scale))));
  return s.residual.empty() ? 0 : 1.4826 * median(s.residual);
}

void gather(const Surface& surface, const Vec3& centre, double radius, Scratch& s) {
  surface.within(centre, radius, s.found);
  s.near.clear();
  for (int i : s.found) s.near.push_back(surface.points()[std::size_t(i)]);
}

/// Root mean square of the weighted residuals.
double rms_of(const Solver& fit, double scale, const Scratch& s) {
  double sum = 0, weights = 0;
  for (std::size_t i = 0; i < s.u.size(); ++i) {
    const double e = s.h[i] - fit.coefficients.dot(terms(s.u[i] / scale, s.v[i] / scale));
    sum += s.weight[i] * e * e;
    weights += s.weight[i];
  }
  return weights > 0 ? std::sqrt(sum / weights) : 0;
}

/// Small patch around `start` from the points that a wall tilted by up to atan(cone) from the hint can have here.
Patch seed_within(const Surface& surface, const Vec3& start, const Eigen::Matrix3d& axes, double cone, Scratch& s,
                  double& rms) {
  Patch patch;
  patch.origin = start;
  patch.axes = axes;
  const double sp = surface.spacing(), allowance = 0.5 * sp + 3 * surface.noise();
  for (double reach : {seed_radius * sp, 1.6 * seed_radius * sp}) {
    s.u.clear(), s.v.clear(), s.h.clear(), s.weight.clear();
    for (const Vec3& p : s.near) {
      const Vec3 q = patch.axes.transpose() * (p - start);
      const double rho2 = q.head<2>().squaredNorm() / (reach * reach);
      if (rho2 >= 1 || std::abs(q.z()) > allowance + cone * reach * std::sqrt(rho2)) continue;
      s.u.push_back(q.x()), s.v.push_back(q.y()), s.h.push_back(q.z()), s.weight.push_back(1 - rho2);
    }
    patch.radius = reach;
    patch.used = int(s.u.size());
    if (patch.used >= enough_for_quadric) break;
  }
  if (patch.used < enough_for_plane) return patch;
  const bool plane = patch.used < enough_for_quadric;
  const Solver fit(s, patch.radius, 0, plane);
  if (!fit.ok) return patch;
  store(fit, patch.radius, patch);
  patch.scatter = scatter_of(fit, patch.radius, s);
  rms = rms_of(fit, patch.radius, s);
  patch.ok = true;
  return patch;
}

/// The first, small patch. A cone of 30° takes any tilt that a hint may have; where it lets in another wall, the
/// residuals show it, and a cone of 17° keeps out a wall 2 spacings away.
Patch seed(const Surface& surface, const Vec3& start, const Vec3& hint, Scratch& s) {
  const Eigen::Matrix3d axes = frame_about(hint);
  double rms = 0, narrow_rms = 0;
  const Patch wide = seed_within(surface, start, axes, 0.6, s, rms);
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
  s.u.clear(), s.v.clear(), s.h.clear(), s.weight.clear();
  const double sigma = std::max({noise, old.scatter, scatter_floor * spacing});
  for (const Vec3& p : s.near) {
    const Vec3 q = next.axes.transpose() * (p - next.origin);
    const double rho2 = q.head<2>().squaredNorm() / (next.radius * next.radius);
    if (rho2 >= 1) continue;
    const Vec3 o = old.axes.transpose() * (p - old.origin);
    const double off = std::abs(o.z() - old.height(o.head<2>()));
    double w = 1 - rho2;
    if (first) {
      // The small patch is extrapolated to twice its radius: a tenth of the distance covers its curvature error.
      if (off > 0.25 * spacing + 10 * sigma + 0.1 * next.radius * std::sqrt(rho2)) continue;
    } else {
      const double t = off / (tukey_cut * sigma);
      if (t >= 1) continue;
      w *= (1 - t * t) * (1 - t * t);
    }
    s.u.push_back(q.x()), s.v.push_back(q.y());
    s.h.push_back(q.z() - quartic(next.H, q.head<2>()));
    s.weight.push_back(w);
  }
}

/// The inner of the two neighbourhoods that truncation is judged by, and the share of a fourth-order error that the
/// difference between their centres shows: the error goes with the fourth power of the radius.
struct Inner {
  double radius = 0, share = 0;
  int count = 0;
};

/// Half the area where that leaves points enough for the same kind of fit, else three quarters of it: a plane inside
/// a quadric would show the bow of the face and not what the quadric leaves out.
Inner inner_of(const Scratch& s, double r, int enough) {
  Inner inner;
  for (double t2 : {0.5, 0.75}) {
    inner = {r * std::sqrt(t2), 1 - t2 * t2, 0};
    for (std::size_t i = 0; i < s.u.size(); ++i) inner.count += Solver::weight(s, i, inner.radius) > 0;
    if (inner.count >= enough) break;
  }
  return inner;
}

/// Most that a misfit moves the centre, in root mean squares of its residuals. A quadric over a disc with weights
/// 1 − ρ² leaves ρ⁴ − 0.8 ρ² + 0.1 of ρ⁴ (moments of the disc): 0.1 at the centre, 1/√300 in root mean square, which is
/// a ratio of √3; uneven points add some.
constexpr double centre_by_residual = 2.5;

/// Standard uncertainties of the finished patch. Noise: σ times the row of the estimator. Truncation: what the
/// fit of an inner neighbourhood says differently beyond its own noise, not more than the residuals allow, and a
/// share of the quartic correction.
void uncertainty(const Solver& fit, bool plane, double noise, double spacing, Scratch& s, Patch& patch) {
  const double r = patch.radius;
  double residual2 = 0, weights = 0, count = 0;
  for (std::size_t i = 0; i < s.u.size(); ++i) {
    const double e = s.h[i] - fit.coefficients.dot(terms(s.u[i] / r, s.v[i] / r));
    residual2 += s.weight[i] * e * e;
    weights += s.weight[i];
    count += s.weight[i] > 0;
  }
  const double freedom = count - (plane ? 3 : 6);
  const double spread = freedom > 0 ? std::sqrt(residual2 / weights * count / freedom) : noise;
  const double sigma = std::max(noise, spread);
  const int enough = plane ? enough_for_plane : enough_for_quadric;
  const Inner within = inner_of(s, r, enough);
  const Solver inner(s, r, within.radius, plane);
  const bool compare = inner.ok && within.count >= enough;
  double row2 = 0, slope2[2] = {0, 0}, between2 = 0, shift = 0;
  for (std::size_t i = 0; i < s.u.size(); ++i) {
    const Row t = terms(s.u[i] / r, s.v[i] / r);
    const double a = s.weight[i] * fit.inverse.row(0).dot(t);
    row2 += a * a;
    for (int k : {0, 1}) {
      const double b = s.weight[i] * fit.inverse.row(1 + k).dot(t) / r;
      slope2[k] += b * b;
    }
    shift += a * quartic(patch.H, Vector2d(s.u[i], s.v[i]));
    if (compare) {
      const double d = Solver::weight(s, i, within.radius) * inner.inverse.row(0).dot(t) - a;
      between2 += d * d;
    }
  }
  // A plane in place of a quadric: its bow, judged by the scatter, is not known to better than itself.
  double truncation2 = plane ? spread * spread : 0;
  // What moves the centre shows in the residuals too; noise of its own size may hide as much again.
  const double most2 = centre_by_residual * centre_by_residual * spread * spread;
  if (compare) {
    // Differences within two of their own standard deviations are noise that is counted already.
    const double d = inner.coefficients(0) - fit.coefficients(0);
    const double beyond2 = std::max(0.0, d * d - 4 * sigma * sigma * between2) / (within.share * within.share);
    truncation2 += std::min(most2, beyond2);
  } else {
    // Too few points for two radii: the misfit beyond the noise, at its worst.
    truncation2 += std::max(0.0, most2 - centre_by_residual * centre_by_residual * noise * noise);
  }
  // How far real faces are from constant curvature is unknown; a fifth of the correction covers bends whose other
  // curvature varies (a torus, from the tests) and is next to nothing at radii above 15 spacings.
  truncation2 += 0.04 * shift * shift;
  patch.u = std::sqrt(sigma * sigma * row2 + truncation2);
  patch.u_slope = sigma * std::sqrt(std::max(slope2[0], slope2[1]));
  // More than one point's own noise at the foot: the fit reaches out beyond its points. Residuals of half a spacing
  // beyond the noise: the points are not one wall.
  if (row2 > 1 || spread > 0.5 * spacing + 3 * noise) patch.ok = false;
}

/// Is the foot (the frame's origin) among its points? One-sided neighbourhoods are fine up to the last point.
bool supported(const Scratch& s, double spacing, double radius) {
  double nearest2 = 1e300, su = 0, sv = 0, n = 0;
  for (std::size_t i = 0; i < s.u.size(); ++i) {
    if (s.weight[i] <= 0) continue;
    nearest2 = std::min(nearest2, s.u[i] * s.u[i] + s.v[i] * s.v[i]);
    su += s.u[i], sv += s.v[i], ++n;
  }
  const double nearest = std::sqrt(nearest2);
  // A half disc has its centroid at 0.42 r: the foot then lies on the border of the scan.
  const bool inside = n > 0 && std::hypot(su, sv) / n < 0.35 * radius;
  return nearest <= 1.5 * spacing || (inside && nearest <= 2.5 * spacing);
}

}  // namespace

Patch fit_patch(const Surface& surface, const Vec3& at, const Vec3& start, const Vec3& hint, double radius,
                Scratch& s) {
  const double sp = surface.spacing(), noise = surface.noise();
  const double wanted = radius > 0 ? radius : default_radius * sp;
  Vec3 gathered = start;
  // A fifth more than needed, so that the foot may move without a new search.
  const double margin = 0.2 * wanted, reach = wanted + margin;
  gather(surface, start, reach, s);
  Patch patch = seed(surface, start, hint, s);
  if (!patch.ok) return patch;
  const double curvature = sure_curvature(patch, noise);
  // Below 2.6 spacings (about 21 points) noise would rule; what truncation is left there is carried in u.
  double r = std::min(wanted, std::max(2.6 * sp, share_of_curvature / std::max(curvature, 1e-9)));
  bool settled = false;
  int fits = 0;
  for (int pass = 0; pass < 8 && !settled; ++pass) {
    const Foot foot = foot_on(patch, at);
    if (foot.normal.dot(hint) < 0.3) {  // turned by more than 72°: another wall
      patch.ok = false;
      return patch;
    }
    Patch next;
    next.origin = foot.point;
    next.axes = frame_about(foot.normal);
    next.radius = r;
    // Curvature in the new frame; the slope there is nil, so the old second derivatives only need turning.
    if (fits > 0) {
      const Matrix2d turn = (next.axes.transpose() * patch.axes).topLeftCorner<2, 2>();
      next.H = turn * patch.C * turn.transpose();
    }
    if ((foot.point - gathered).norm() + r > reach) {
      gathered = foot.point;
      gather(surface, gathered, reach, s);
    }
    select(patch, next, fits == 0, noise, sp, s);
    next.used = int(s.u.size());
    // Sparse places get a wider neighbourhood, up to the points gathered, until a quadric has enough to stand on.
    if (next.used < 2 * enough_for_quadric && r < reach && fits == 0 && pass < 4) {
      r = std::min(reach, 1.3 * r);
      continue;
    }
    if (next.used < enough_for_plane) {
      patch.ok = false;
      return patch;
    }
    const bool plane = next.used < enough_for_quadric;
    const Solver fit(s, r, 0, plane);
    if (!fit.ok) {
      patch.ok = false;
      return patch;
    }
    store(fit, r, next);
    next.ok = true;
    // Settled when the frame no longer moves: a hundredth of the radius shifts the weights by less than 1e-4.
    const double moved = (foot.point - patch.origin).norm(), tilted = next.slope.norm();
    settled = fits++ >= 2 && moved < 0.01 * r && tilted < 0.01;
    if (settled || pass == 7) {
      next.ok = supported(s, sp, r);
      uncertainty(fit, plane, noise, sp, s, next);
    } else {
      next.scatter = scatter_of(fit, r, s);  // the next selection cuts by it; the last patch needs none
    }
    patch = next;
  }
  if (!settled && patch.u == 0) patch.ok = false;
  return patch;
}

}  // namespace cavity

LocalFit fit_local(const Surface& surface, const Vec3& at, const Vec3& hint, double radius) {
  if (!(hint.norm() > 0) || !at.allFinite())
    throw Error(Fault::input, "fit_local: place or normal hint is not finite or nil; give a unit normal");
  cavity::Scratch scratch;
  const Vec3 start = surface.points()[std::size_t(surface.nearest(at).first)];
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

}  // namespace gapfront
