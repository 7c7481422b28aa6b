// The proposed seal line against invented dishes whose line is known.
#include "gapfront/seal.hpp"
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <random>

using namespace gapfront;

namespace {

/// Signed distance in plan to the edge of a dish: positive outside.
using Plan = std::function<double(double, double)>;

Plan rounded_rectangle(double a, double b, double r) {
  return [=](double x, double y) {
    const double qx = std::abs(x) - (a - r), qy = std::abs(y) - (b - r);
    return std::hypot(std::max(qx, 0.0), std::max(qy, 0.0)) + std::min(std::max(qx, qy), 0.0) - r;
  };
}
/// Not a distance far from the edge, but near it to first order (F/|∇F|).
Plan ellipse(double a, double b) {
  return [=](double x, double y) {
    const double f = x * x / (a * a) + y * y / (b * b) - 1;
    const double slope = 2 * std::hypot(x / (a * a), y / (b * b));
    return slope > 0 ? f / slope : -std::min(a, b);
  };
}
/// A square of side 2a without its quarter +x +y; inner and outer corners rounded by r.
Plan l_shape(double a, double r) {
  const auto box = [](double x, double y, double cx, double cy, double hx, double hy) {
    const double qx = std::abs(x - cx) - hx, qy = std::abs(y - cy) - hy;
    return std::hypot(std::max(qx, 0.0), std::max(qy, 0.0)) + std::min(std::max(qx, qy), 0.0);
  };
  return [=](double x, double y) {
    const double d = std::min(box(x, y, -a / 2, 0, a / 2 - r, a - r), box(x, y, 0, -a / 2, a - r, a / 2 - r));
    return d - r;
  };
}

struct Dish {
  Plan plan;
  double half_u = 150, half_v = 110;  ///< of the scan, to the outer edge of the flange
  double depth = 30, radius = 12;     ///< wall at 60°, with this radius at the rim
  double stand_off = 0, cavity = 3;   ///< between the halves: on the land, in the dish
  double land_to = 0;                 ///< the upper half's land ends so far outside the rim, mm
  double spacing = 1.5, noise = 0.015;
};

/// Depth of the lower face at s mm inside the rim.
double depth_of(const Dish& d, double s) {
  const double turn = M_PI / 3, along = d.radius * std::sin(turn);
  if (s <= 0) return 0;
  if (s < along) return d.radius - std::sqrt(d.radius * d.radius - s * s);
  return std::min(d.depth, d.radius * (1 - std::cos(turn)) + (s - along) * std::tan(turn));
}

std::pair<Surface, Surface> scans(const Dish& d, const Rigid& pose = Rigid::Identity()) {
  std::mt19937 random(4);
  std::normal_distribution<double> gauss(0, d.noise);
  std::uniform_real_distribution<double> jitter(-0.3 * d.spacing, 0.3 * d.spacing);
  std::vector<Vec3> low, up;
  for (double x = -d.half_u; x <= d.half_u; x += d.spacing)
    for (double y = -d.half_v; y <= d.half_v; y += d.spacing) {
      for (int half = 0; half < 2; ++half) {
        const double px = x + jitter(random), py = y + jitter(random), s = -d.plan(px, py);
        const double h = 0.05;
        const Vec3 slope((depth_of(d, -d.plan(px + h, py)) - depth_of(d, -d.plan(px - h, py))) / (2 * h),
                         (depth_of(d, -d.plan(px, py + h)) - depth_of(d, -d.plan(px, py - h))) / (2 * h), 1);
        const Vec3 face(px, py, -depth_of(d, s));
        // Across the cavity along the normal, from the lower face; on the land by the stand-off.
        const double across = half == 0 ? 0 : -s > d.land_to ? d.stand_off : d.cavity;
        (half ? up : low).push_back(pose * (face + (across + gauss(random)) * slope.normalized()));
      }
    }
  return {Surface(low, {.spacing = d.spacing, .noise = d.noise}),
          Surface(up, {.spacing = d.spacing, .noise = d.noise})};
}

struct Miss {
  double most = 0;     ///< greatest distance of the line from the true one, either way, mm
  double overlap = 0;  ///< area in common over area of both together
};

/// By sampling: the true line is where plan = offset.
Miss miss(const SealProposal& seal, const Plan& plan, double offset, double half_u, double half_v) {
  Miss out;
  const std::size_t n = seal.line.size();
  for (std::size_t k = 0; k < n; ++k)
    for (double t = 0; t < 1; t += 0.1) {
      const Vec3 p = seal.line[k] + t * (seal.line[(k + 1) % n] - seal.line[k]);
      out.most = std::max(out.most, std::abs(plan(p.x(), p.y()) - offset));
    }
  std::vector<Vec3> closed = seal.line;
  closed.push_back(closed.front());
  double both = 0, either = 0;
  for (double x = -half_u; x <= half_u; x += 0.5)
    for (double y = -half_v; y <= half_v; y += 0.5) {
      const bool truly = plan(x, y) < offset, found = inside_polygon_xy(Vec3(x, y, 0), seal.line);
      both += truly && found, either += truly || found;
      // The other way: a place of the true line that no part of the found one is near.
      if (std::abs(plan(x, y) - offset) < 0.3) {
        Vec3 q(x, y, 0);
        q.z() = seal.line.front().z();
        out.most = std::max(out.most, distance_to_path(q, closed) - 0.3);
      }
    }
  out.overlap = both / either;
  return out;
}

void near_the_rim(const Dish& d, SealFound how, double offset = 0) {
  const auto [low, up] = scans(d);
  const SealProposal seal = cavity::propose_seal(low, up);
  INFO("found as " << int(seal.found) << ", confidence " << seal.confidence);
  REQUIRE(seal.found == how);
  const Miss m = miss(seal, d.plan, offset, d.half_u, d.half_v);
  INFO("farthest " << m.most << " mm, overlap " << m.overlap);
  CHECK(m.most < 4.5);  // one and a half grid cells, each two spacings; the inner corner of the L is the farthest
  CHECK(m.overlap > 0.97);
  CHECK(seal.confidence > 0.95);
  CHECK(seal.plane_normal.z() > 0.9999);
}

}  // namespace

TEST_CASE("Where the lands stand off by as much as the cavity, the rim of the dish is proposed") {
  for (const Plan& plan : {rounded_rectangle(110, 75, 25), ellipse(115, 80), l_shape(90, 15)}) {
    Dish d;
    d.plan = plan, d.stand_off = d.cavity;
    near_the_rim(d, SealFound::rim);
  }
}

TEST_CASE("Where the lands touch, the line is proposed where the gap leaves them, on the flange or at the rim") {
  for (const Plan& plan : {rounded_rectangle(110, 75, 25), ellipse(115, 80), l_shape(90, 15)}) {
    Dish d;
    d.plan = plan;
    near_the_rim(d, SealFound::land);
    d.land_to = 10;
    near_the_rim(d, SealFound::land, 10);
  }
}

TEST_CASE("The line is found in any frame, at a stand-off, on noisy scans, and past a ball that stands on the land") {
  Dish d;
  d.plan = rounded_rectangle(110, 75, 25), d.noise = 0.04, d.stand_off = 1;
  near_the_rim(d, SealFound::land);
  Rigid pose = Rigid::Identity();
  pose.rotate(Eigen::AngleAxisd(1.2, Vec3(0.3, -1, 0.5).normalized())).pretranslate(Vec3(300, -40, 700));
  const auto [low, up] = scans(d, pose);
  const SealProposal seal = cavity::propose_seal(low, up);
  REQUIRE(seal.ok());
  CHECK((pose.inverse().linear() * seal.plane_normal).z() > 0.9999);
  double most = 0;
  for (const Vec3& p : seal.line) {
    const Vec3 q = pose.inverse() * p;
    most = std::max(most, std::abs(d.plan(q.x(), q.y())));
  }
  CHECK(most < 3);
  // A line in X and Y of such a frame would not follow the edge.
  CHECK(cavity::propose_seal_in_frame(low, up).found == SealFound::tilted);

  auto with_ball = scans(d);
  for (int half = 0; half < 2; ++half) {
    std::vector<Vec3> points = (half ? with_ball.second : with_ball.first).points();
    for (double a = 0; a < 6.28; a += 0.1)
      for (double b = 0; b < 1.5; b += 0.1)
        points.push_back(Vec3(118, 0, 1) + 8 * Vec3(std::cos(a) * std::cos(b), std::sin(a) * std::cos(b), std::sin(b)));
    (half ? with_ball.second : with_ball.first) = Surface(points, {.spacing = d.spacing, .noise = d.noise});
  }
  const SealProposal past = cavity::propose_seal(with_ball.first, with_ball.second, {{"B1", Vec3(118, 0, 1), 12}});
  REQUIRE(past.ok());
  CHECK(miss(past, d.plan, 0, d.half_u, d.half_v).most < 4.5);
}

TEST_CASE("Two flat halves at one distance, and a dish scanned without its land, give no line, and say why") {
  Dish flat;
  flat.plan = [](double, double) { return 10.0; }, flat.stand_off = 3;
  auto [low, up] = scans(flat);
  CHECK(cavity::propose_seal(low, up).found == SealFound::no_edge);
  Dish bare;  // the scan ends inside the rim on three sides
  bare.plan = [](double x, double) { return -(130 - x); }, bare.stand_off = 3;
  auto [low2, up2] = scans(bare);
  const SealProposal open = cavity::propose_seal(low2, up2);
  CHECK_FALSE(open.ok());
  CHECK(open.line.empty());
}

TEST_CASE("The land is a tube beside the line, clear of it") {
  Dish d;
  d.plan = rounded_rectangle(110, 75, 25), d.stand_off = 3;
  const auto [low, up] = scans(d);
  const auto lands = cavity::proposed_lands(cavity::propose_seal(low, up));
  REQUIRE(lands.size() == 1);
  CHECK(lands[0].contains(Vec3(128, 0, 0)));
  CHECK(lands[0].contains(Vec3(0, -92, 0)));
  CHECK_FALSE(lands[0].contains(Vec3(108, 0, 0)));
  CHECK_FALSE(lands[0].contains(Vec3(0, 0, 0)));
}
