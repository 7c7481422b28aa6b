#include "align/dowel.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <random>

#include "align/cylinder.hpp"
#include "core/statistics.hpp"

namespace gapfront::align {
namespace {

using PlanePoint = Eigen::Vector2d;

constexpr double kSquare = 0.996;  // cosine of 5°: dowels stand square to their land, far better than this
constexpr int kSectors = 12;
constexpr int kLeastAround = 7;     // of the sectors: less than half a turn leaves centre and radius to each other
constexpr int kLeastOfLand = 5;     // a dowel near the land's edge has land on one side only
constexpr double kLength = 0.25;    // of the diameter; shorter, and the axis's direction is anybody's guess
constexpr int kFewestOnDowel = 20;  // points on the cylinder
constexpr int kTriples = 800;       // with one point in five on the circle some six of them lie on it
constexpr std::size_t kCircleScored = 400;
// The land that speaks for the crossing: past a chamfer or a countersink, and near enough to be flat.
constexpr double kLandFrom = 1.5, kLandTo = 4;  // radii from the axis

struct DowelCircle {
  PlanePoint centre = PlanePoint::Zero();
  double radius = 0;
  int held = 0;
};

/// A frame on the land: x and y along it, z off it.
struct OnLand {
  Vec3 at, e1, e2, normal;
  explicit OnLand(const PlaneFit& land)
      : at(land.point), e1(land.normal.unitOrthogonal()), e2(land.normal.cross(e1)), normal(land.normal) {}
  Vec3 of(const Vec3& p) const { return {e1.dot(p - at), e2.dot(p - at), normal.dot(p - at)}; }
};

std::optional<DowelCircle> circle_through(const PlanePoint& a, const PlanePoint& b, const PlanePoint& c) {
  const PlanePoint u = b - a, v = c - a;
  const double twice = 2 * (u.x() * v.y() - u.y() * v.x());
  if (std::abs(twice) < 1e-3 * u.norm() * v.norm()) return {};
  const PlanePoint d((v.y() * u.squaredNorm() - u.y() * v.squaredNorm()) / twice,
                     (u.x() * v.squaredNorm() - v.x() * u.squaredNorm()) / twice);
  return DowelCircle{a + d, d.norm(), 0};
}

/// Sectors around a centre that hold points.
int sectors_held(const std::vector<PlanePoint>& points, const PlanePoint& centre) {
  std::array<bool, kSectors> held{};
  for (const PlanePoint& p : points) {
    const double turn = std::atan2(p.y() - centre.y(), p.x() - centre.x()) / (2 * M_PI) + 0.5;
    held[std::min(kSectors - 1, int(turn * kSectors))] = true;
  }
  return int(std::count(held.begin(), held.end(), true));
}

/// The circle of a radius in this range with most points near it, seen along the land's normal.
DowelCircle circle_in(const std::vector<PlanePoint>& points, const RadiusRange& range, double noise) {
  DowelCircle best;
  if (points.size() < std::size_t(kFewestOnDowel)) return best;
  std::vector<PlanePoint> some;
  for (std::size_t k = 0, n = std::min(points.size(), kCircleScored); k < n; ++k)
    some.push_back(points[k * points.size() / n]);
  std::mt19937 random(11);  // any fixed seed: the same points give the same circle
  for (int k = 0; k < kTriples; ++k) {
    const PlanePoint &a = some[random() % some.size()], &b = some[random() % some.size()],
                     &c = some[random() % some.size()];
    auto circle = circle_through(a, b, c);
    if (!circle || circle->radius < range.min || circle->radius > range.max) continue;
    const double band = 0.06 * circle->radius + 3 * noise;  // a dowel 3° off square and two diameters long stays in it
    for (const PlanePoint& p : some) circle->held += std::abs((p - circle->centre).norm() - circle->radius) < band;
    if (circle->held > best.held) best = *circle;
  }
  return best;
}

/// Distance of a point from the cylinder's surface.
double off_cylinder(const CylinderFit& c, const Vec3& p) {
  const Vec3 d = p - c.point;
  return (d - c.axis * c.axis.dot(d)).norm() - c.radius;
}

struct DowelBody {
  CylinderFit cylinder;
  int used = 0;
};

/// Least squares through the points on the cylinder, chamfers and what stands about it left out.
std::optional<DowelBody> cylinder_near(const std::vector<Vec3>& points, const CylinderFit& start, double noise) {
  DowelBody body{start, 0};
  const double band = 0.1 * start.radius + 3 * noise;
  double limit = band;
  std::vector<Vec3> on;
  // The limit shrinks to four times the scatter seen; 20 guards against cycling.
  for (int round = 0; round < 20; ++round) {
    on.clear();
    for (const Vec3& p : points)
      if (std::abs(off_cylinder(body.cylinder, p)) < limit) on.push_back(p);
    if (int(on.size()) < kFewestOnDowel) return {};
    const auto fit = fit_cylinder(on, body.cylinder, true);
    if (!fit || std::abs(fit->radius / start.radius - 1) > 0.2) return {};
    const bool settled = int(on.size()) == body.used;
    body = {*fit, int(on.size())};
    if (settled) break;
    std::vector<double> off;
    for (const Vec3& p : on) off.push_back(std::abs(off_cylinder(*fit, p)));
    limit = std::min(band, std::max({4 * robust_sigma(std::move(off)), 3 * noise, 1e-6 * start.radius}));
  }
  std::vector<double> along;
  for (const Vec3& p : on) along.push_back(body.cylinder.axis.dot(p));
  const double length = quantile(along, 0.95) - quantile(along, 0.05);
  if (length < 2 * kLength * body.cylinder.radius) return {};
  // What is only nearly a cylinder (the belt of a ball, a cone) is not one.
  if (body.cylinder.rms > std::max(3 * noise, 0.01 * body.cylinder.radius)) return {};
  return body;
}

struct LandHeight {
  double height = 0, slope_x = 0, slope_y = 0, variance = 0;
};

/// Height of the land at a place in its frame, by a plane through the points around it.
std::optional<LandHeight> land_at(const std::vector<Vec3>& on_land, const PlanePoint& at, double radius, double noise) {
  std::vector<Vec3> ring;
  std::vector<PlanePoint> places;
  for (const Vec3& p : on_land)
    if (const double r = (p.head<2>() - at).norm(); r > kLandFrom * radius && r < kLandTo * radius)
      ring.push_back(p - Vec3(at.x(), at.y(), 0)), places.push_back(p.head<2>());
  if (ring.size() < 12 || sectors_held(places, at) < kLeastOfLand) return {};
  double limit = 1e300, scatter = 0;
  Vec3 plane = Vec3::Zero();
  Eigen::Matrix3d cofactor;
  std::size_t used = 0;
  for (int round = 0; round < 5; ++round) {
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    Vec3 rhs = Vec3::Zero();
    std::vector<double> off;
    const auto residual = [&](const Vec3& p) { return p.z() - plane.dot(Vec3(1, p.x(), p.y())); };
    std::vector<Vec3> in;
    for (const Vec3& p : ring)
      if (std::abs(residual(p)) < limit) in.push_back(p);
    if (in.size() < 12) return {};
    for (const Vec3& p : in) {
      const Vec3 row(1, p.x(), p.y());
      normal += row * row.transpose(), rhs += p.z() * row;
    }
    cofactor = normal.inverse();
    plane = cofactor * rhs;
    double square = 0;
    for (const Vec3& p : in) square += residual(p) * residual(p), off.push_back(std::abs(residual(p)));
    used = in.size(), scatter = square / double(used - 3);
    limit = std::max({4 * robust_sigma(std::move(off)), 3 * noise, 1e-9});
  }
  if (used < 30) scatter = std::max(scatter, noise * noise);
  return LandHeight{plane.x(), plane.y(), plane.z(), scatter * cofactor(0, 0)};
}

/// The dowel on a land, of the points on one side of it.
DowelFit dowel_on(const std::vector<Vec3>& off_land, const std::vector<Vec3>& on_land, const RadiusRange& range,
                  double noise) {
  std::vector<PlanePoint> seen;
  for (const Vec3& p : off_land) seen.push_back(p.head<2>());
  const DowelCircle circle = circle_in(seen, range, noise);
  if (circle.held < 10) return {};
  CylinderFit start;
  start.point = {circle.centre.x(), circle.centre.y(), 0}, start.radius = circle.radius;
  const auto body = cylinder_near(off_land, start, noise);
  if (!body || std::abs(body->cylinder.axis.z()) < kSquare) return {};
  const CylinderFit& c = body->cylinder;
  std::vector<PlanePoint> around;
  for (const Vec3& p : off_land)
    if (std::abs(off_cylinder(c, p)) < 0.1 * c.radius) around.push_back(p.head<2>());
  const auto crossing = [&](double height) -> Vec3 { return c.point + c.axis * (height - c.point.z()) / c.axis.z(); };
  Vec3 at = crossing(0);
  if (sectors_held(around, c.point.head<2>()) < kLeastAround) return {};
  const auto land = land_at(on_land, at.head<2>(), c.radius, noise);
  if (!land) return {};
  at = crossing(land->height);
  DowelFit out;
  out.point = at, out.axis = c.axis, out.diameter = 2 * c.radius, out.rms = c.rms, out.used = body->used;
  double variance = c.rms * c.rms * out.used / (out.used - 5.0);
  // Few points say little about their own scatter: below 30 the declared noise is the floor.
  if (out.used < 30) variance = std::max(variance, noise * noise);
  const Vec3 up = Vec3(-land->slope_x, -land->slope_y, 1).normalized();
  out.covariance = variance * c.cofactor_at(c.axis.dot(at - c.point)) + land->variance * up * up.transpose();
  // Points all around fix the radius by their mean, nearly.
  out.u_diameter = 2 * std::sqrt(variance / out.used);
  return out;
}

}  // namespace

DowelFit fit_dowel_on(const PlaneFit& land, const std::vector<Vec3>& near, const RadiusRange& range, double noise) {
  const OnLand frame(land);
  const double band = std::max(10 * noise, 0.06 * range.min), margin = std::max(6 * noise, 0.15 * range.min);
  std::vector<Vec3> off[2], on;
  for (const Vec3& p : near) {
    const Vec3 q = frame.of(p);
    if (std::abs(q.z()) < band) on.push_back(q);
    if (std::abs(q.z()) > margin) off[q.z() > 0].push_back(q);
  }
  const DowelFit below = dowel_on(off[0], on, range, noise), above = dowel_on(off[1], on, range, noise);
  DowelFit out = above.used >= below.used ? above : below;
  Eigen::Matrix3d turn;
  turn << frame.e1, frame.e2, frame.normal;
  out.point = frame.at + turn * out.point, out.axis = turn * out.axis;
  out.covariance = turn * out.covariance * turn.transpose();
  return out;
}

DowelFit fit_dowel(const std::vector<Vec3>& points, const Vec3& rough, double diameter, double noise) {
  // A place on top of a dowel two diameters long still has land in reach, a diameter beyond the dowel's side.
  const double reach = 3.5 * diameter;
  std::vector<Vec3> near;
  for (const Vec3& p : points)
    if ((p - rough).squaredNorm() <= reach * reach) near.push_back(p);
  const auto land = find_plane(near, std::max(4 * noise, 0.01 * diameter));
  if (!land) return {};
  const DowelFit out = fit_dowel_on(*land, near, {.min = 0.45 * diameter, .max = 0.55 * diameter}, noise);
  // 3 %: a hole is wider than its dowel by their play.
  if (out.used == 0 || std::abs(out.diameter - diameter) > std::max(0.03 * diameter, 3 * noise)) return {};
  const Vec3 off = out.point - rough;
  return (off - out.axis * out.axis.dot(off)).norm() <= 1.2 * diameter ? out : DowelFit{};
}

}  // namespace gapfront::align
