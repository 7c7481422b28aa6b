// A graph over its own tangent plane: evaluation, nearest point, curvature.
#include "cavity/patch.hpp"
#include <algorithm>
#include <cmath>

namespace gapfront::cavity {

namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;

/// Beyond this |Hx|² the constant-curvature surface turns over (1 is its equator) and the graph ends; the
/// correction is held at the value it has there.
constexpr double kTurnOver = 0.9;

}  // namespace

double quartic(const Matrix2d& H, const Vector2d& x, Vector2d* gradient) {
  const Vector2d hx = H * x;
  const double q = x.dot(hx), s = std::min(hx.squaredNorm(), kTurnOver), w = std::sqrt(1 - s);
  // 1/(1 + w) − 1/2 without its cancellation.
  const double extra = s / (2 * (1 + w) * (1 + w));
  if (gradient) *gradient = 2 * extra * hx + q / (w * (1 + w) * (1 + w)) * (H * hx);
  return q * extra;
}

Pack quartic(const Matrix2d& H, const Pack& u, const Pack& v) {
  const Eigen::Matrix2f h = H.cast<float>();
  const Pack hu = h(0, 0) * u + h(0, 1) * v, hv = h(1, 0) * u + h(1, 1) * v;
  const Pack s = (hu * hu + hv * hv).min(float(kTurnOver)), w = 1 + (1 - s).sqrt();
  return (u * hu + v * hv) * s / (2 * w * w);
}

double Patch::height(const Vector2d& x, Vector2d& gradient) const {
  const Vector2d cx = C * x;
  const double extra = quartic(H, x, &gradient);
  gradient += slope + cx;
  return c0 + slope.dot(x) + 0.5 * x.dot(cx) + extra;
}

double Patch::height(const Vector2d& x) const { return c0 + slope.dot(x) + 0.5 * x.dot(C * x) + quartic(H, x); }

Truncation Patch::slope_truncation(const Vec3& direction) const {
  Truncation t;
  const double shown = slope_shown.dot((axes.transpose() * direction).head<2>());
  t.seen2 = shown * shown, t.noise2 = slope_shown_noise2;
  if (t.noise2 >= 0) t.counted2 = std::max(0.0, t.seen2 - 4 * t.noise2);
  return t;
}

Foot foot_on(const Patch& patch, const Vec3& p) {
  const Vec3 local = patch.axes.transpose() * (p - patch.origin);
  const Vector2d a = local.head<2>();
  // Beyond twice the fitted neighbourhood the graph means nothing: the search stays inside.
  const double bound = 2 * patch.radius;
  Vector2d x = a, g;
  if (x.norm() > bound) x *= bound / x.norm();
  for (int i = 0; i < 12; ++i) {
    const double z = patch.height(x, g);
    const Vector2d f = x - a + (z - local.z()) * g;
    const Matrix2d gauss = Matrix2d::Identity() + g * g.transpose();
    Matrix2d jacobian = gauss + (z - local.z()) * patch.C;
    // Past the centre of curvature the Hessian is not positive: a Gauss–Newton step still goes downhill.
    if (jacobian.determinant() < 0.05 || jacobian.trace() <= 0) jacobian = gauss;
    const Vector2d step = jacobian.inverse() * f;
    x -= step;
    if (x.norm() > bound) x *= bound / x.norm();
    // A thousandth of a micrometre along the face moves the distance by far less.
    if (step.squaredNorm() < 1e-12) break;
  }
  const double z = patch.height(x, g);
  Foot foot;
  foot.point = patch.origin + patch.axes * Vec3(x.x(), x.y(), z);
  foot.normal = (patch.axes * Vec3(-g.x(), -g.y(), 1)).normalized();
  foot.distance = (p - foot.point).dot(foot.normal);
  foot.offset = x.norm();
  return foot;
}

std::pair<double, double> curvatures(const Patch& patch) {
  // Shape operator of a graph: first fundamental form⁻¹ times the second (do Carmo, from memory).
  const Vector2d& g = patch.slope;
  const Matrix2d first = Matrix2d::Identity() + g * g.transpose();
  const Matrix2d shape = first.inverse() * patch.C / std::sqrt(1 + g.squaredNorm());
  const double mean = shape.trace() / 2;
  const double spread = std::sqrt(std::max(0.0, mean * mean - shape.determinant()));
  const double a = mean + spread, b = mean - spread;
  return std::abs(a) >= std::abs(b) ? std::pair{a, b} : std::pair{b, a};
}

}  // namespace gapfront::cavity
