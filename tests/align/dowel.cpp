// Dowels and their holes as targets.
#include "align/dowel.hpp"

#include <catch2/catch.hpp>

#include "gapfront/balls.hpp"
#include "gapfront/error.hpp"
#include "support.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// A dowel of radius 6 (or its hole, for a negative length) in a land around the origin, normal +Z, with a chamfer of
/// 1 mm at the land and, of a dowel, its top.
std::vector<Vec3> dowel_in_land(double length, double spacing, double noise, Random& random) {
  std::vector<Vec3> out;
  add_flat(out, Vec3::Zero(), 30, spacing, 7, noise, random);
  const double radius = 6, top = std::abs(length), side = length > 0 ? 1 : -1;
  for (double h = spacing / 2; h < top; h += spacing) {
    // The chamfer widens the hole, and the foot of the dowel.
    const double r = radius + std::max(0.0, 1 - h), turns = std::ceil(2 * M_PI * r / spacing), first = random.uniform();
    for (int k = 0; k < turns; ++k) {
      const double a = 2 * M_PI * (k + first) / turns, d = r + noise * random.gauss();
      out.emplace_back(d * std::cos(a), d * std::sin(a), side * h);
    }
  }
  if (length > 0)
    for (double x = -6; x <= 6; x += spacing)
      for (double y = -6; y <= 6; y += spacing)
        if (std::hypot(x, y) < 5.5) out.emplace_back(x, y, length + noise * random.gauss());
  return out;
}

std::vector<Vec3> carried_by(const Rigid& m, std::vector<Vec3> points) {
  for (Vec3& p : points) p = m * p;
  return points;
}

/// Two halves with two balls and two dowels, the upper one's holes, in frames of their own.
struct DowelTool {
  Scan lower, upper;
  AlignOptions options;
  Rigid lower_pose = pose(10, -20, 30, 0.4, {1, 2, 3}), upper_pose = pose(-300, 80, 40, 2.5, {-1, 1, 4});
  DowelTool() {
    Random random(12);
    const std::vector<Vec3> at{{0, 0, 0}, {260, 20, 0}, {30, 190, 0}, {280, 210, 0}};
    for (int half = 0; half < 2; ++half) {
      std::vector<Vec3> points;
      for (int k = 0; k < 4; ++k) {
        std::vector<Vec3> part;
        if (k < 2) {
          part = dowel_in_land(half ? -12 : 12, 1, 0.02, random);
        } else {
          add_ball(part, {0, 0, 5}, 10, -0.4, 900, 0.02, random);
          add_flat(part, Vec3::Zero(), 30, 1, 10, 0.02, random);
        }
        for (const Vec3& p : part) points.push_back(at[k] + p);
      }
      (half ? upper : lower).cloud.points = carried_by(half ? upper_pose : lower_pose, points);
    }
    for (int k = 0; k < 4; ++k) {
      const Vec3 place = at[k] + Vec3(1, -2, k < 2 ? 0 : 5);
      options.targets.push_back(ball_target(k < 2 ? "D" + std::to_string(k + 1) : "B" + std::to_string(k - 1), 20,
                                            lower_pose * place, upper_pose * place));
      if (k < 2) options.targets[k].ball.reset(), options.targets[k].dowel = 12;
    }
  }
  std::string fault() const {
    try {
      align::register_halves(lower, upper, options, {.lower = 0.02, .upper = 0.02});
    } catch (const Error& e) {
      return e.what();
    }
    return "no error";
  }
};

}  // namespace

TEST_CASE("A dowel and a hole through exact points meet the land where they were put") {
  Random random(3);
  const Rigid off = pose(100, -40, 7, 1.1, {1, -2, 0.5});
  for (const double length : {14.0, -9.0}) {
    const auto points = carried_by(off, dowel_in_land(length, 0.8, 0, random));
    const auto fit = align::fit_dowel(points, off * Vec3(4, -5, length / 2), 12, 0.005);
    INFO("length " << length);
    REQUIRE(fit.used > 200);
    CHECK((fit.point - off.translation()).norm() < 1e-6);
    CHECK(std::abs(fit.axis.dot(off.linear().col(2))) > 1 - 1e-9);
    CHECK(fit.diameter == Approx(12).margin(1e-6));
  }
}

TEST_CASE("The claimed covariance of a dowel's mark covers its error") {
  // 300 draws; 95 % by the expanded U of each direction: 93–98 % is the bar (two-sided binomial 3 σ: 91.2–98.8 %).
  // NEES of 3 degrees of freedom: the mean lies within 3 ± 2.576·√(6/300) = 3 ± 0.36.
  Random random(4);
  int within[3] = {};
  double mean = 0;
  const int draws = 300;
  for (int k = 0; k < draws; ++k) {
    const Rigid off = pose(50, 20, -10, 6 * random.uniform(), random.vector());
    const auto points = carried_by(off, dowel_in_land(k % 2 ? 10 : -10, 1.2, 0.02, random));
    const auto fit = align::fit_dowel(points, off * (3.0 * random.vector()), 12, 0.02);
    REQUIRE(fit.used > 0);
    const Vec3 error = off.linear().transpose() * (fit.point - off.translation());
    const Eigen::Matrix3d c = off.linear().transpose() * fit.covariance * off.linear();
    for (int i = 0; i < 3; ++i) within[i] += std::abs(error(i)) < 1.96 * std::sqrt(c(i, i));
    mean += error.dot(c.inverse() * error) / draws;
  }
  INFO("mean NEES " << mean << ", within " << within[0] << " " << within[1] << " " << within[2]);
  for (const int w : within) {
    CHECK(w >= 0.93 * draws);
    CHECK(w <= 0.98 * draws);
  }
  CHECK(mean == Approx(3).margin(0.36));
}

TEST_CASE("Two dowels and their holes, with two balls, close the halves") {
  const DowelTool t;
  const Alignment a = align::register_halves(t.lower, t.upper, t.options, {.lower = 0.02, .upper = 0.02});
  // Each place is good to some 2 µm; the lower scan's frame is the tool's.
  for (const Vec3& p : {Vec3(0, 0, 0), Vec3(280, 210, 0), Vec3(140, 100, 0)})
    CHECK((a.upper_to_tool.motion * (t.upper_pose * p) - t.lower_pose * p).norm() < 0.015);
  CHECK(a.closure.p > 0.001);
  REQUIRE(a.residuals.size() == 4);
  CHECK(a.residuals[0].lower_points > 300);
  for (const FoundMark& m : a.marks)
    if (m.name[0] == 'D') CHECK(m.clear.value_or(0) == Approx(18));
}

TEST_CASE("What is no dowel is refused, and so is a dowel whose lands do not touch") {
  DowelTool t;
  t.options.targets[2].ball.reset(), t.options.targets[2].dowel = 20;  // a ball
  CHECK(says(t.fault(), "target B1: no dowel or hole of that diameter"));
  t = DowelTool();
  t.options.targets[0].dowel = 14;
  CHECK(says(t.fault(), "target D1: no dowel or hole of that diameter, on a land and seen around, within 16.8 mm of"));
  t = DowelTool();
  t.options.stand_off = 2;
  CHECK(says(t.fault(), "with a stand-off that is not one place"));
  t = DowelTool();
  t.options.targets[0].ball = 12;
  CHECK(says(t.fault(), "is a ball or a dowel, not both"));
}

TEST_CASE("Dowels of unknown size are found in both halves and paired; balls are not taken for them") {
  const DowelTool t;
  const auto lower = align::search_dowels(t.lower.cloud.points, {.spacing = 1, .noise = 0.02});
  const auto upper = align::search_dowels(t.upper.cloud.points, {.spacing = 1, .noise = 0.02});
  REQUIRE(lower.size() == 2);
  REQUIRE(upper.size() == 2);
  for (const FoundDowel& d : lower) CHECK(d.diameter == 12);
  const Rigid closing = t.lower_pose * t.upper_pose.inverse();
  const auto pairs = align::pair_dowels(lower, upper, closing);
  REQUIRE(pairs.size() == 2);
  for (const Target& d : pairs) CHECK((closing * d.upper->at - d.lower->at).norm() < 0.02);
  // Lands half a millimetre apart: the marks are not at one place.
  Rigid apart = closing;
  apart.translation() += 0.5 * t.lower_pose.linear().col(2);
  CHECK(align::pair_dowels(lower, upper, apart).empty());
}
