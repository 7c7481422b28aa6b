#include <catch2/catch.hpp>
#include <cmath>

#include "../conformity/plate.hpp"
#include "correct/shims.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;

namespace {

std::vector<Station> corners() {
  return {{"S1", Vec3(-184, -134, 0), 1},
          {"S2", Vec3(184, -134, 0), 1},
          {"S3", Vec3(184, 134, 0), 1},
          {"S4", Vec3(-184, 134, 0), 1}};
}

double at(const Sheet& s, const std::vector<double>& f, double x, double y) {
  for (std::size_t i = 0; i < s.size(); ++i)
    if ((s.mesh.points[i] - Vec3(x, y, 0)).norm() < 1e-9) return f[i];
  FAIL("no node there");
  return 0;
}

}  // namespace

// Three points fix a plane: over them the gap changes by exactly what was put in, linearly between.
TEST_CASE("Three stations carry the upper half on the plane through their tops") {
  const Sheet s = plate::sheet(60, 60, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const std::vector<Station> t{{"A", Vec3(-30, -30, 0), 1}, {"B", Vec3(30, -30, 0), 1}, {"C", Vec3(0, 30, 0), 1}};
  const auto f = correct::shim_effect(s, g, t, {0.1, 0.3, 0.6});
  CHECK(at(s, f, -30, -30) == Approx(0.1));
  CHECK(at(s, f, 30, -30) == Approx(0.3));
  CHECK(at(s, f, 0, 30) == Approx(0.6));
  CHECK(at(s, f, 0, 0) == Approx((0.2 + 0.6) / 2));  // half way from the base's middle to C
}

// One corner of four raised by h: the half rests on it and on its two neighbours across, or on the diagonal through it;
// over the centre the height is h/2 (diagonal S1–S3 carries), and it tips onto S2 or S4, both h/2 when level across.
TEST_CASE("One raised corner of four lifts the middle by half") {
  const Sheet s = plate::sheet(120, 120, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const auto f = correct::shim_effect(s, g, corners(), {0.4, 0, 0, 0});
  CHECK(at(s, f, 0, 0) == Approx(0.2));
}

TEST_CASE("A corner that is lowered below the plane of the others carries nothing and changes nothing") {
  const Sheet s = plate::sheet(120, 120, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  // The load a little towards S3: it rests on S2, S3, S4.
  auto t = corners();
  for (auto& k : t) k.at -= Vec3(5, 5, 0);
  for (double v : correct::shim_effect(s, g, t, {-0.4, 0, 0, 0})) CHECK(v == Approx(0).margin(1e-12));
}

TEST_CASE("A coplanar change is followed exactly by four stations") {
  const Sheet s = plate::sheet(120, 120, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const auto f = correct::shim_effect(s, g, corners(), {-0.5, -0.25, 0, -0.25});
  CHECK(at(s, f, 0, 0) == Approx(-0.25));
  CHECK(at(s, f, 60, 0) == Approx(-0.25 + 0.125 * 60 / 184));
}

// Lifting by h opens a wall that leans by the angle a from the closing direction by h·cos(a) only.
TEST_CASE("On a leaning wall a lift opens the gap by its cosine") {
  const Sheet s = plate::sheet(120, 120, 10);
  GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  g.nodes[5].direction = Vec3(std::sin(1.2), 0, std::cos(1.2));
  CHECK(correct::shim_effect(s, g, corners(), {0.3, 0.3, 0.3, 0.3})[5] == Approx(0.3 * std::cos(1.2)));
}

TEST_CASE("Stations that do not enclose the sheet are refused") {
  const Sheet s = plate::sheet(60, 60, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const std::vector<Station> t{{"A", Vec3(100, 0, 0), 1}, {"B", Vec3(200, 0, 0), 1}, {"C", Vec3(150, 80, 0), 1}};
  CHECK_THROWS_AS(correct::shim_effect(s, g, t, {0, 0, 0}), Error);
}

TEST_CASE("Stacks use the fewest pieces of the stock") {
  const auto stacks = correct::reachable_stacks({0.1, 0.2, 0.5}, 3);
  const auto find = [&](double total) {
    for (const auto& s : stacks)
      if (std::abs(s.total - total) < 1e-9) return s.pieces;
    return std::vector<double>{-1};
  };
  CHECK(find(0.7) == std::vector<double>{0.5, 0.2});
  CHECK(find(0.4) == std::vector<double>{0.2, 0.2});
  CHECK(find(0.0).empty());
  CHECK(find(1.4) == std::vector<double>{-1});  // would need four
  CHECK(find(1.5) == std::vector<double>{0.5, 0.5, 0.5});
}

// The generator's lifted corner: S1 high by 0.5, its neighbours by 0.25, S3 by nothing, all in one plane.
TEST_CASE("A lifted corner is taken down by what it was lifted") {
  const Sheet s = plate::sheet(360, 258, 6);
  plate::Noise noise{3};
  const GapMap g = plate::gap(s, 0.01, [&](const Vec3& p) {
    return 3.25 - 0.125 * (p.x() / 184 + p.y() / 134) + 0.6 * plate::bump(p, Vec3(85, -45, 0), 35) + 0.008 * noise();
  });
  const ToleranceOptions tolerance;
  const Verdict v = conformity::judge(s, g, tolerance);
  CorrectOptions o;
  o.stations = corners();
  o.stock = {0.05, 0.1, 0.2, 0.5, 1};
  const auto choice =
      correct::choose_shims(s, g, conformity::tolerance_limits(s, tolerance), correct::without_regions(v),
                            conformity::fit_rigid_part(s, g, v.deviation), o);
  REQUIRE(choice);
  CHECK(choice->change[0] == Approx(-0.5));
  CHECK(choice->change[1] == Approx(-0.25));
  CHECK(choice->change[2] == Approx(0).margin(1e-9));
  CHECK(choice->change[3] == Approx(-0.25));
  CHECK(choice->stacks[0].pieces == std::vector<double>{0.5});
}

namespace {

/// The best score over every level of every station, by brute force and the public effect alone.
correct::ShimScore best_of_all(const Sheet& s, const GapMap& g, const std::vector<NodeLimits>& limits,
                               const std::vector<double>& deviation, const CorrectOptions& o) {
  auto levels = correct::reachable_stacks(o);
  const double now = o.stations[0].present;
  if (std::none_of(levels.begin(), levels.end(),
                   [&](const correct::ShimStack& l) { return std::abs(l.total - now) < 1e-9; }))
    levels.push_back({now, {now}});
  const correct::Seating seating = correct::seat(s, g, o.stations);
  const std::size_t n = levels.size(), stations = o.stations.size();
  std::size_t all = 1;
  for (std::size_t k = 0; k < stations; ++k) all *= n;
  std::optional<correct::ShimScore> best;
  for (std::size_t code = 0; code < all; ++code) {
    std::vector<double> h;
    std::vector<std::size_t> pick;
    for (std::size_t k = 0, r = code; k < stations; ++k, r /= n)
      pick.push_back(r % n), h.push_back(levels[r % n].total - now);
    const auto plane = seating.rest(h);
    REQUIRE(plane);
    correct::ShimScore score = correct::score_shims(s, g, limits, deviation, seating, *plane);
    for (std::size_t k = 0; k < stations; ++k) {
      score.loose += seating.height(*plane, k) - h[k];
      score.pieces += static_cast<int>(levels[pick[k]].pieces.size());
      score.changed += std::abs(h[k]) > 1e-9;
    }
    if (!best || correct::better(score, *best)) best = score;
  }
  return *best;
}

/// A plate whose upper half sits wrong by chance, too wide a map for its tolerance to be met everywhere.
struct Crooked {
  Sheet sheet = plate::sheet(120, 120, 20);
  GapMap gap;
  ToleranceOptions tolerance;
  Verdict verdict;
  explicit Crooked(std::uint64_t seed, double tolerance_mm = 0.05) {
    tolerance.plus = tolerance.minus = tolerance_mm;
    plate::Noise noise{seed};
    const double a = 0.1 * noise(), b = 2e-3 * noise(), c = 2e-3 * noise();
    gap = plate::gap(sheet, 0.01, [&](const Vec3& p) { return 3 + a + b * p.x() + c * p.y() + 0.02 * noise(); });
    verdict = conformity::judge(sheet, gap, tolerance);
  }
  std::optional<correct::ShimChoice> choose(const CorrectOptions& o) const {
    return correct::choose_shims(sheet, gap, conformity::tolerance_limits(sheet, tolerance), verdict.deviation,
                                 conformity::fit_rigid_part(sheet, gap, verdict.deviation), o);
  }
};

}  // namespace

TEST_CASE("The stacks chosen are the best of all combinations, and are said to be") {
  CorrectOptions o;
  o.stations = {{"A", Vec3(-80, -70, 0), 0.4},
                {"B", Vec3(80, -75, 0), 0.4},
                {"C", Vec3(70, 80, 0), 0.4},
                {"D", Vec3(-75, 70, 0), 0.4}};
  o.stock = {0.1, 0.25};
  o.max_pieces = 2;  // 0, 0.1, 0.2, 0.25, 0.35, 0.5
  SECTION("of the stock at four stations") {}
  SECTION("with the flange relieved where that may be") {
    for (auto& s : o.stations) s.present = 0.1;
    o.stock = {0.1, 0.25}, o.max_pieces = 1, o.relieve_flange = 0.15;  // −0.15, −0.1, −0.05, 0, 0.1, 0.25
  }
  SECTION("at six stations") {
    o.stations.push_back({"E", Vec3(0, -85, 0), 0.4});
    o.stations.push_back({"F", Vec3(5, 90, 0), 0.4});
    o.max_pieces = 1, o.stock = {0.25, 0.5};  // 0, 0.25, 0.5 and what lies there
  }
  for (const std::uint64_t seed : {1, 2, 3}) {
    const Crooked c(seed);
    const auto choice = c.choose(o);
    REQUIRE(choice);
    const correct::ShimScore best =
        best_of_all(c.sheet, c.gap, conformity::tolerance_limits(c.sheet, c.tolerance), c.verdict.deviation, o);
    CAPTURE(seed, choice->after.out_area, best.out_area, choice->after.rms, best.rms, choice->boxes);
    CHECK(correct::key_of(choice->after) == correct::key_of(best));
    CHECK(choice->proven);
  }
}

TEST_CASE("A search that is proven has looked at few of the combinations") {
  CorrectOptions o;
  o.stations = corners();
  o.stock = correct::stock_set("metric");
  const Crooked c(7, 0.3);
  const auto choice = c.choose(o);
  REQUIRE(choice);
  CHECK(choice->proven);
  const double all = std::pow(correct::reachable_stacks(o).size(), 4);
  CHECK(all > 7e7);  // 92 stacks at each of four stations
  CHECK(choice->boxes < 1e-4 * all);
}

TEST_CASE("The flange is relieved only if that is allowed") {
  const Crooked c(2);
  CorrectOptions o;
  o.stations = corners();
  for (auto& s : o.stations) s.present = 0;
  o.stock = {0.1};
  for (const auto& s : correct::reachable_stacks(o)) CHECK(s.total >= 0);
  o.relieve_flange = 0.1;
  CHECK(correct::reachable_stacks(o).front().total == Approx(-0.1));
  o.touch_tool = false;
  CHECK(correct::reachable_stacks(o).front().total == 0);
}

TEST_CASE("A stack is never higher than its limit") {
  CHECK(correct::reachable_stacks({0.5, 1}, 4, 1.6).back().total == Approx(1.5));
  CHECK(correct::reachable_stacks({0.5, 1}, 4).back().total == Approx(4));
}

// Shim stock by thousandths of an inch: 5 thou is 0.127 mm.
TEST_CASE("The shim sets are metric and inch") {
  CHECK(correct::stock_set("inch").at(2) == Approx(0.127));
  CHECK(correct::stock_set("metric").at(1) == Approx(0.1));
  CHECK_THROWS_AS(correct::stock_set("cubits"), Error);
}

TEST_CASE("Proposed stations stand evenly around the rim, outside it, and carry the half") {
  const Sheet s = plate::sheet(240, 180, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  CorrectOptions o;
  o.propose = 6, o.flange_margin = 20, o.present = 1;
  const auto t = correct::propose_stations(s, g, o);
  REQUIRE(t.size() == 6);
  for (const auto& k : t) {
    CHECK(k.present == 1);
    // Outside the rectangle by the margin, to the whole millimetre it is rounded to.
    CHECK(std::max(std::abs(k.at.x()) - 120, std::abs(k.at.y()) - 90) == Approx(20).margin(0.6));
  }
  CHECK(correct::seat(s, g, t).rest(std::vector<double>(6, 0)));
}

// The half turns about the flange: what lies 100 mm below it swings out by 100 mm × the tilt, 0.4/200.
TEST_CASE("A tilt swings a deep cavity sideways") {
  const Sheet s = plate::sheet(60, 60, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const std::vector<Station> t{{"A", Vec3(-100, -100, 0), 1},
                               {"B", Vec3(100, -100, 0), 1},
                               {"C", Vec3(100, 100, 0), 1},
                               {"D", Vec3(-100, 100, 0), 1}};
  const correct::Seating seating = correct::seat(s, g, t);
  const auto plane = seating.rest({0, 0.4, 0.4, 0});
  REQUIRE(plane);
  CHECK(seating.sideways(Vec3(0, 0, -100), *plane) == Approx(0.2));
  CHECK(seating.sideways(Vec3(50, 0, 0), *plane) == Approx(0).margin(1e-12));
}
