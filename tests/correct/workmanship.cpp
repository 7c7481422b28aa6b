// What real hands leave out of tolerance.
#include <catch2/catch.hpp>
#include <cmath>

#include "../conformity/plate.hpp"
#include "gapfront/workmanship.hpp"

using namespace gapfront;

namespace {

double normal_below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

struct Work {
  Sheet sheet = plate::sheet(160, 120, 10);
  GapMap gap = plate::gap(sheet, 0.01, [](const Vec3&) { return 3.0; });
  std::vector<NodeLimits> limits;
  std::vector<double> planned;
  Correction work;
  double area = 0;
  explicit Work(double tolerance) {
    for (const double a : sheet.area) area += a;
    limits.assign(sheet.size(), {3, 3 - tolerance, 3 + tolerance});
    planned.assign(sheet.size(), 3);
    work.kind = Kind::relief;
    work.gap_change.assign(sheet.size(), 0.4);
  }
  OutArea out(const Workmanship& w, int draws) const {
    return correct::out_after_work(sheet, gap, limits, planned, {&work}, w, draws);
  }
};

}  // namespace

// A normal error of 0.05 mm leaves ±0.1 mm with the probability 2 Φ(−2) = 4.55 % at each place, whatever the
// correlation; the mean of the area is that share of it. 4,000 draws of some 40 independent places: ± 0.1 %.
TEST_CASE("At a tolerance of two workmanships a twentieth of the worked area is out on average, not nothing") {
  const Work w(0.1);
  const OutArea a = w.out({0.05, 20, 0.01}, 4000);
  CHECK(a.mean / w.area == Approx(2 * normal_below(-2)).margin(0.004));
  CHECK(a.low == 0);
  CHECK(a.high > 2 * a.mean);
  CHECK(a.high < 0.5 * w.area);
}

TEST_CASE("The farther an error by hand is alike, the wider the interval; the mean stays") {
  const Work w(0.1);
  const OutArea near = w.out({0.05, 12, 0.01}, 1500), far = w.out({0.05, 80, 0.01}, 1500);
  CHECK(far.high - far.low > 2 * (near.high - near.low));
  CHECK(far.mean / w.area == Approx(near.mean / w.area).margin(0.015));
}

TEST_CASE("Without workmanship, without work and with glass only, the planned area is what is left") {
  Work w(0.1);
  for (std::size_t i = 0; i < 20; ++i) w.planned[i] = 3.2;
  double planned = 0;
  for (std::size_t i = 0; i < 20; ++i) planned += w.sheet.area[i];
  const auto same = [&](const OutArea& a) {
    CHECK(a.mean == Approx(planned));
    CHECK(a.low == Approx(planned));
    CHECK(a.high == Approx(planned));
  };
  same(w.out({0, 20, 0}, 50));
  same(correct::out_after_work(w.sheet, w.gap, w.limits, w.planned, {}, {}, 50));
  w.work.kind = Kind::reinforcement_patch;
  same(w.out({}, 50));
}

TEST_CASE("Where nothing is added or taken nothing goes wrong, and never more than half of what is worked") {
  Work w(0.05);
  for (std::size_t i = 0; i < w.sheet.size(); ++i) {
    const double x = w.sheet.mesh.points[i].x();
    w.work.gap_change[i] = x > 0 ? 0.02 : 0;
  }
  // 0.01 mm is a fifth of what is allowed: Φ(−5) is nothing in a hundred draws.
  CHECK(w.out({0.05, 20, 0}, 100).high == 0);
}

// Three stations at the corners of an equilateral triangle: over its middle the half is at their mean, which is off by
// u/√3. With so much left to the limit, Φ(−1) = 15.9 % of the draws are out, over the whole small sheet at once.
TEST_CASE("A stack's error moves the half as it rests on its stations") {
  Work w(0.3);
  const double u = 0.01;
  w.work.kind = Kind::shim;
  for (int k = 0; k < 3; ++k) {
    ShimChange s;
    s.at = 4000 * Vec3(std::cos(2.0943951 * k), std::sin(2.0943951 * k), 0);
    w.work.shims.push_back(s);
  }
  w.planned.assign(w.sheet.size(), 3.3 - u / std::sqrt(3.0));
  const OutArea a = w.out({0.05, 20, u}, 4000);
  CHECK(a.mean / w.area == Approx(normal_below(-1)).margin(0.02));
  CHECK(a.high == Approx(w.area));
}
