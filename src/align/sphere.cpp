// Spheres of tooling balls: consensus among random triples, then least squares on the points that belong.
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <optional>
#include <random>
#include <utility>

#include "align/plane.hpp"
#include "core/linear.hpp"
#include "core/statistics.hpp"
#include "gapfront/align.hpp"

namespace gapfront::align {
namespace {

using Points = std::vector<Vec3>;

struct Ball {
  Vec3 centre;
  double radius;
};

// A rough place may be half a ball diameter off; the fifth on top is for rough places that were rounded.
constexpr double kReach = 1.2;
// Points kept for scoring hypotheses: enough for a consensus, few enough that dense scans cost no more.
constexpr std::size_t kScored = 1500;
// With one ball point in five the chance that no triple of 1500 lies on the ball is below 1e-5.
constexpr int kDraws = 1500;
// Directions from the centre must spread: a cap of half-angle a has a smallest second moment of about a²/4, so
// this asks for about 16°. A flat touching the ball stays far below, whatever the point density.
constexpr double kSpread = 0.02;
// A ball is told from chance by at least so many points.
constexpr int kFewestOnBall = 12;

/// Centres of the two spheres of radius r through three points, if any.
std::vector<Vec3> centres_through(const Vec3& a, const Vec3& b, const Vec3& c, double r) {
  const Vec3 u = b - a, v = c - a, n = u.cross(v);
  const double n2 = n.squaredNorm();
  if (n2 < 1e-6 * r * r * r * r) return {};  // slivers: sides below about r/30 carry noise, not a place
  const Vec3 mid = a + (u.squaredNorm() * v.cross(n) + v.squaredNorm() * n.cross(u)) / (2 * n2);
  const double h2 = r * r - (mid - a).squaredNorm();
  if (h2 < 0) return {};
  const Vec3 up = n * std::sqrt(h2 / n2);
  return {mid + up, mid - up};
}

/// The sphere through four points, if they are not on one plane.
std::optional<Ball> sphere_through(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  Eigen::Matrix3d m;
  m << (b - a).transpose(), (c - a).transpose(), (d - a).transpose();
  const Vec3 rhs = 0.5 * Vec3((b - a).squaredNorm(), (c - a).squaredNorm(), (d - a).squaredNorm());
  const double size = m.rowwise().norm().prod();
  if (std::abs(m.determinant()) < 1e-3 * size) return {};
  const Vec3 centre = m.inverse() * rhs;
  return Ball{a + centre, centre.norm()};
}

/// Points on the ball count for it, points inside it against it: a real ball is solid.
double score(const Points& points, const Ball& ball, double tolerance) {
  double sum = 0;
  const double outer = (ball.radius + tolerance) * (ball.radius + tolerance);
  for (const Vec3& p : points) {
    const double d2 = (p - ball.centre).squaredNorm();
    if (d2 > outer) continue;
    const double e = (std::sqrt(d2) - ball.radius) / tolerance;
    if (e > -1)
      sum += 1 - e * e;
    else if (e < -3)
      sum -= 1;
  }
  return sum;
}

Points points_near_surface(const Points& points, const Ball& ball, double tolerance) {
  Points on;
  for (const Vec3& p : points)
    if (std::abs((p - ball.centre).norm() - ball.radius) <= tolerance) on.push_back(p);
  return on;
}

/// Plain least squares by Gauss–Newton; returns the inverse normal matrix of the unknowns, or none if singular.
std::optional<Eigen::Matrix4d> least_squares(const Points& points, bool free_radius, Ball& ball) {
  Eigen::Matrix4d inverse = Eigen::Matrix4d::Zero();
  const int n = free_radius ? 4 : 3;
  for (int iteration = 0; iteration < 50; ++iteration) {
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Vector4d rhs = Eigen::Vector4d::Zero();
    for (const Vec3& p : points) {
      const Vec3 q = p - ball.centre;
      const double d = q.norm();
      if (d == 0) continue;
      Eigen::Vector4d g;
      g << q / d, 1;
      normal += g * g.transpose();
      rhs += g * (d - ball.radius);
    }
    const Eigen::MatrixXd a = normal.topLeftCorner(n, n);
    const auto spectrum = spectrum_of(a);
    if (spectrum.eigenvalues()(0) <= 1e-12 * spectrum.eigenvalues()(n - 1)) return {};
    const Eigen::VectorXd step = solve_symmetric(a, rhs.head(n));
    ball.centre += step.head<3>();
    if (free_radius) ball.radius += step(3);
    inverse.topLeftCorner(n, n) = inverse_of(a);
    if (step.norm() < 1e-13 * (ball.radius + ball.centre.norm())) break;
  }
  return inverse;
}

double rms_distance(const Points& points, const Ball& ball) {
  double sum = 0;
  for (const Vec3& p : points) sum += std::pow((p - ball.centre).norm() - ball.radius, 2);
  return points.empty() ? 0 : std::sqrt(sum / points.size());
}

/// Of the distances to the ball.
double robust_spread(const Points& points, const Ball& ball) {
  std::vector<double> d;
  for (const Vec3& p : points) d.push_back(std::abs((p - ball.centre).norm() - ball.radius));
  return robust_sigma(std::move(d));
}

Points thinned(const Points& points, std::size_t most) {
  if (points.size() <= most) return points;
  Points out;
  for (std::size_t i = 0; i < most; ++i) out.push_back(points[i * points.size() / most]);
  return out;
}

std::optional<Ball> consensus(const Points& points, const Vec3& rough, double radius, double tolerance) {
  const Points scored = thinned(points, kScored);
  std::mt19937 random(20240229);  // any fixed seed: the same points give the same ball
  const auto draw = [&]() -> const Vec3& { return scored[random() % scored.size()]; };
  std::optional<Ball> best;
  double best_score = 0;
  const auto consider = [&](Ball ball) {
    if (radius > 0 && (ball.centre - rough).norm() > kReach * radius) return;
    double s = score(scored, ball, tolerance);
    if (s <= 0.5 * best_score) return;
    // Three noisy points place the centre poorly; a fit to what it gathers, from wide to narrow, mends that.
    for (double width : {3.0, 1.5, 1.0}) {
      const Points on = points_near_surface(scored, ball, width * tolerance);
      Ball better = ball;
      if (on.size() < 6 || !least_squares(on, radius <= 0, better)) break;
      const double t = score(scored, better, tolerance);
      if (t <= s) continue;
      s = t;
      ball = better;
    }
    if (radius > 0 && (ball.centre - rough).norm() > kReach * radius) return;
    if (s > best_score) best_score = s, best = ball;
  };
  int draws = kDraws;
  for (int k = 0; k < draws; ++k) {
    const Vec3 &a = draw(), &b = draw(), &c = draw();
    if (radius > 0) {
      for (const Vec3& centre : centres_through(a, b, c, radius)) consider({centre, radius});
    } else if (const auto ball = sphere_through(a, b, c, draw())) {
      consider(*ball);
    }
    // Enough once the chance that a ball with more points went unseen is below 1e-6; never fewer than 30 draws.
    const double fraction = std::clamp(best_score / scored.size(), 0.0, 0.999);
    const double hit = std::pow(fraction, radius > 0 ? 3 : 4);
    if (hit > 0) draws = static_cast<int>(std::clamp(std::log(1e-6) / std::log1p(-hit), 30.0, double(kDraws)));
  }
  return best;
}

/// Without the points close to the flat the ball stands on: there glue, shadow and the flat itself mix in.
Points without_base(const Points& points, const Ball& ball, double tolerance) {
  Points rest;
  for (const Vec3& p : points)
    if (std::abs((p - ball.centre).norm() - ball.radius) > 2 * tolerance) rest.push_back(p);
  if (rest.size() < 20) return points;
  const auto base = find_plane(rest, tolerance);
  if (!base || base->used < static_cast<int>(rest.size() / 2)) return points;
  const double margin = std::max(2 * tolerance, 0.1 * ball.radius);
  Points out;
  for (const Vec3& p : points)
    if (std::abs(base->normal.dot(p - base->point)) > margin) out.push_back(p);
  return out;
}

double direction_spread(const Points& points, const Vec3& centre) {
  Eigen::Matrix3d m = Eigen::Matrix3d::Zero();
  for (const Vec3& p : points) {
    const Vec3 n = (p - centre).normalized();
    m += n * n.transpose();
  }
  return spectrum_of(Eigen::Matrix3d(m / points.size())).eigenvalues()(0);
}

}  // namespace

SphereFit fit_sphere(const std::vector<Vec3>& points, const Vec3& rough, const SphereSearch& search) {
  const double radius = search.radius, noise = search.noise;
  Points near;
  const double reach = (1 + kReach) * radius + 6 * noise;
  for (const Vec3& p : points)
    if (radius <= 0 || (p - rough).squaredNorm() <= reach * reach) near.push_back(p - rough);
  if (near.size() < static_cast<std::size_t>(kFewestOnBall)) return {};
  double size = radius;
  if (radius <= 0)
    for (const Vec3& p : near) size = std::max(size, p.norm());
  // Four sigma keep all but one good point in 16 000; the floor is the form error of a plain tooling ball.
  const double tolerance = std::max(4 * noise, 0.002 * size);
  auto found = consensus(near, Vec3::Zero(), radius, tolerance);
  if (!found) return {};
  Ball ball = *found;
  const Points clear = without_base(near, ball, tolerance);

  Points on = points_near_surface(clear, ball, 2 * tolerance), before;
  std::optional<Eigen::Matrix4d> inverse;
  // The limit shrinks to four times the scatter seen, so the kept set settles within a few rounds; 20 guards cycling.
  for (int round = 0; round < 20 && on.size() != before.size(); ++round) {
    if (on.size() < static_cast<std::size_t>(kFewestOnBall)) return {};
    inverse = least_squares(on, radius <= 0, ball);
    if (!inverse) return {};
    const double spread = std::max({robust_spread(on, ball), rms_distance(on, ball) * 0.5, 1e-9 * ball.radius});
    before.swap(on);
    on = points_near_surface(clear, ball, std::min(2 * tolerance, std::max(4 * spread, 3 * noise)));
  }
  if (on.size() < static_cast<std::size_t>(kFewestOnBall)) return {};
  inverse = least_squares(on, radius <= 0, ball);
  if (!inverse || direction_spread(on, ball.centre) < kSpread) return {};
  if (radius > 0 && ball.centre.norm() > kReach * radius) return {};

  SphereFit fit;
  fit.centre = rough + ball.centre;
  fit.radius = ball.radius;
  fit.rms = rms_distance(on, ball);
  fit.used = static_cast<int>(on.size());
  const double unknowns = radius > 0 ? 3 : 4;
  double variance = fit.rms * fit.rms * fit.used / (fit.used - unknowns);
  // Few points say little about their own scatter: below 30 the declared noise is the floor.
  if (fit.used < 30) variance = std::max(variance, noise * noise);
  fit.covariance = variance * inverse->topLeftCorner<3, 3>();
  fit.u_centre = std::sqrt(fit.covariance.trace() / 3);
  for (const Vec3& p : on) fit.kept.push_back(p - ball.centre);
  return fit;
}

namespace {

/// Where a fit may begin: the sphere of linear least squares, and the two of the given radius on the circle that the
/// points come nearest to.
std::vector<Ball> starts(const Points& points, double radius) {
  const double n = double(points.size());
  Vec3 mean = Vec3::Zero();
  for (const Vec3& p : points) mean += p / n;
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  Vec3 pull = Vec3::Zero();  // Σ d (|d|² − mean |d|²) / 2
  double square = 0;
  for (const Vec3& p : points) square += (p - mean).squaredNorm() / n;
  for (const Vec3& p : points) {
    const Vec3 d = p - mean;
    scatter += d * d.transpose(), pull += 0.5 * (d.squaredNorm() - square) * d;
  }
  const auto axes = spectrum_of(scatter);
  std::vector<Ball> out;
  if (axes.eigenvalues()(0) > 1e-6 * axes.eigenvalues()(2)) {
    const Vec3 c = scatter.ldlt().solve(pull);
    out.push_back({mean + c, radius > 0 ? radius : std::sqrt(square + c.squaredNorm())});
  }
  if (radius > 0) {
    const Vec3 n0 = axes.eigenvectors().col(0) * std::sqrt(std::max(0.0, radius * radius - square));
    out.push_back({mean + n0, radius}), out.push_back({mean - n0, radius});
  }
  return out;
}

// Of the points touched the smallest eigenvalue of Σ n nᵀ, n the direction from the centre, is a third of their number
// where they stand evenly all round; a 20th of it leaves the centre four times less sure along one direction.
constexpr double kEnoughAround = 1.0 / 60;
// A second place for the centre that fits no worse than this many times is as good as the first.
constexpr double kAsGood = 3;

}  // namespace

SphereFit fit_touched_ball(const std::vector<Vec3>& points, double radius) {
  SphereFit best;
  if (points.size() < 4) return best;
  const bool free = radius <= 0;
  std::vector<std::pair<double, Ball>> found;
  for (Ball ball : starts(points, radius))
    if (least_squares(points, free, ball)) found.emplace_back(rms_distance(points, ball), ball);
  if (found.empty()) return best;
  std::sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  Ball ball = found.front().second;
  for (const auto& [rms, other] : found)
    if ((other.centre - ball.centre).norm() > 0.1 * ball.radius &&
        rms < kAsGood * found.front().first + 1e-9 * ball.radius)
      return best;  // near one circle: either side of it will do
  const auto inverse = least_squares(points, free, ball);
  const Eigen::Matrix3d covariance = inverse->topLeftCorner<3, 3>();
  const double least = 1 / spectrum_of(covariance).eigenvalues()(2);
  if (least < kEnoughAround * double(points.size())) return best;
  best.centre = ball.centre, best.radius = ball.radius, best.rms = rms_distance(points, ball);
  best.used = static_cast<int>(points.size()), best.covariance = covariance;
  best.u_centre = std::sqrt(covariance.trace() / 3);
  return best;
}

FeatureShape shape_of(const std::vector<Vec3>& points) {
  Vec3 mean = Vec3::Zero();
  for (const Vec3& p : points) mean += p / double(points.size());
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Vec3& p : points) scatter += (p - mean) * (p - mean).transpose() / double(points.size());
  const Vec3 rms = spectrum_of(scatter).eigenvalues().cwiseMax(0).cwiseSqrt();
  // One place touched again, by hand: within a millimetre.
  if (points.size() < 2 || rms(2) < 0.5) return FeatureShape::point;
  // Along an edge or flank, at heights as the hand has them.
  if (points.size() == 2 || rms(1) < 0.05 * rms(2)) return FeatureShape::line;
  if (points.size() < 5 || rms(0) < 0.01 * rms(2)) return FeatureShape::plane;
  const SphereFit ball = fit_touched_ball(points, 0);
  return ball.used > 0 && ball.rms < 0.05 * ball.radius ? FeatureShape::ball : FeatureShape::plane;
}

}  // namespace gapfront::align
