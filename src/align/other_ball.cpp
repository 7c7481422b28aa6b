#include "align/other_ball.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "core/linear.hpp"

namespace gapfront::align {
namespace {

// The cap: within 75° of the middle of the points that were used. Around it: a sixth of the radius either way, less
// than what a ball stands on is off its cap.
constexpr double kCap = 0.25, kAround = 0.15;
// Each size that is tried finds balls up to a twentieth off; nine steps are half to twice.
constexpr double kSizeStep = 1.08;
constexpr int kSizeSteps = 9;
// Smallest second moment of the directions from the centre: 0.21 for a cap of 60°, half of a hemisphere, 0.15 for one
// of 49°, and 0.12 for the eighth of a sphere that rounds the corner of a box.
constexpr double kWideCap = 0.15;

double share_on(const std::vector<Vec3>& near, const SphereFit& fit) {
  Vec3 middle = Vec3::Zero();
  for (const Vec3& p : fit.kept) middle += p.normalized();
  middle.normalize();
  const auto on_cap = [&](const Vec3& d) { return d.dot(middle) > kCap * d.norm(); };
  const auto on = std::count_if(fit.kept.begin(), fit.kept.end(), on_cap);
  const auto around = std::count_if(near.begin(), near.end(), [&](const Vec3& p) {
    const Vec3 d = p - fit.centre;
    return std::abs(d.norm() - fit.radius) < kAround * fit.radius && on_cap(d);
  });
  return around > 0 ? double(on) / double(around) : 1;
}

double narrowest(const SphereFit& fit) {
  Eigen::Matrix3d m = Eigen::Matrix3d::Zero();
  for (const Vec3& p : fit.kept) m += p.normalized() * p.normalized().transpose() / double(fit.kept.size());
  return spectrum_of(m).eigenvalues()(0);
}

}  // namespace

std::vector<Vec3> points_within(const std::vector<Vec3>& points, const Vec3& at, double reach) {
  std::vector<Vec3> out;
  for (const Vec3& p : points)
    if ((p - at).squaredNorm() <= reach * reach) out.push_back(p);
  return out;
}

std::optional<MeasuredBall> measure_ball(const std::vector<Vec3>& points, const Vec3& centre, double radius,
                                         double noise) {
  const auto close = points_within(points, centre, 1.3 * radius);
  MeasuredBall out;
  out.fit = fit_sphere(close, centre, {.radius = 0, .noise = noise});
  const SphereFit& fit = out.fit;
  if (fit.used == 0 || std::abs(fit.radius - radius) > 0.5 * radius || (fit.centre - centre).norm() > 0.5 * radius)
    return std::nullopt;
  Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
  for (const Vec3& p : fit.kept) {
    Eigen::Vector4d g;
    g << p.normalized(), 1;
    normal += g * g.transpose();
  }
  const Eigen::Matrix3d across = normal.topLeftCorner<3, 3>();
  out.lean = solve_symmetric(Eigen::MatrixXd(across), Eigen::VectorXd(normal.topRightCorner<3, 1>())).norm();
  out.u = 2 * std::max(fit.rms, fit.used < 30 ? noise : 0.0) * std::sqrt(std::max(0.0, normal.inverse()(3, 3)));
  out.share = share_on(close, fit);
  return out;
}

std::optional<MeasuredBall> other_ball(const std::vector<Vec3>& points, const Vec3& place, double diameter,
                                       double noise) {
  std::optional<MeasuredBall> best;
  const double largest = 0.5 * diameter * std::pow(kSizeStep, kSizeSteps);
  const auto near = points_within(points, place, kSeenOf * largest);
  for (int k = -kSizeSteps; k <= kSizeSteps; ++k) {
    const SphereFit first =
        fit_sphere(near, place, {.radius = 0.5 * diameter * std::pow(kSizeStep, k), .noise = noise});
    if (first.used == 0) continue;
    const auto ball = measure_ball(near, first.centre, first.radius, noise);
    if (!ball || ball->share < kLeastShare || narrowest(ball->fit) < kWideCap) continue;
    if (!best || ball->fit.used > best->fit.used) best = ball;
  }
  return best;
}

}  // namespace gapfront::align
