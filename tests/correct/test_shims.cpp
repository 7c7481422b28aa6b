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
  const auto f = shim_effect(s, g, t, {0.1, 0.3, 0.6});
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
  const auto f = shim_effect(s, g, corners(), {0.4, 0, 0, 0});
  CHECK(at(s, f, 0, 0) == Approx(0.2));
}

TEST_CASE("A corner that is lowered below the plane of the others carries nothing and changes nothing") {
  const Sheet s = plate::sheet(120, 120, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  // The load a little towards S3: it rests on S2, S3, S4.
  auto t = corners();
  for (auto& k : t) k.at -= Vec3(5, 5, 0);
  for (double v : shim_effect(s, g, t, {-0.4, 0, 0, 0})) CHECK(v == Approx(0).margin(1e-12));
}

TEST_CASE("A coplanar change is followed exactly by four stations") {
  const Sheet s = plate::sheet(120, 120, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const auto f = shim_effect(s, g, corners(), {-0.5, -0.25, 0, -0.25});
  CHECK(at(s, f, 0, 0) == Approx(-0.25));
  CHECK(at(s, f, 60, 0) == Approx(-0.25 + 0.125 * 60 / 184));
}

// Lifting by h opens a wall that leans by the angle a from the closing direction by h·cos(a) only.
TEST_CASE("On a leaning wall a lift opens the gap by its cosine") {
  const Sheet s = plate::sheet(120, 120, 10);
  GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  g.nodes[5].direction = Vec3(std::sin(1.2), 0, std::cos(1.2));
  CHECK(shim_effect(s, g, corners(), {0.3, 0.3, 0.3, 0.3})[5] == Approx(0.3 * std::cos(1.2)));
}

TEST_CASE("Stations that do not enclose the sheet are refused") {
  const Sheet s = plate::sheet(60, 60, 10);
  const GapMap g = plate::gap(s, 0.01, [](const Vec3&) { return 3.0; });
  const std::vector<Station> t{{"A", Vec3(100, 0, 0), 1}, {"B", Vec3(200, 0, 0), 1}, {"C", Vec3(150, 80, 0), 1}};
  CHECK_THROWS_AS(shim_effect(s, g, t, {0, 0, 0}), Error);
}

TEST_CASE("Stacks use the fewest pieces of the stock") {
  const auto stacks = reachable_stacks({0.1, 0.2, 0.5}, 3);
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
  const Verdict v = judge(s, g, tolerance);
  CorrectOptions o;
  o.stations = corners();
  o.stock = {0.05, 0.1, 0.2, 0.5, 1};
  const auto choice =
      choose_shims(s, g, tolerance_limits(s, tolerance), without_regions(v), fit_rigid_part(s, g, v.deviation), o);
  REQUIRE(choice);
  CHECK(choice->change[0] == Approx(-0.5));
  CHECK(choice->change[1] == Approx(-0.25));
  CHECK(choice->change[2] == Approx(0).margin(1e-9));
  CHECK(choice->change[3] == Approx(-0.25));
  CHECK(choice->stacks[0].pieces == std::vector<double>{0.5});
}

// Brute force over every level of every station, by the public effect alone.
TEST_CASE("The stacks chosen are the best of all combinations") {
  const Sheet s = plate::sheet(120, 120, 20);
  CorrectOptions o;
  o.stations = {{"A", Vec3(-80, -70, 0), 0.4},
                {"B", Vec3(80, -75, 0), 0.4},
                {"C", Vec3(70, 80, 0), 0.4},
                {"D", Vec3(-75, 70, 0), 0.4}};
  o.stock = {0.1, 0.25};
  o.max_pieces = 2;  // 0, 0.1, 0.2, 0.25, 0.35, 0.5
  ToleranceOptions tolerance;
  tolerance.plus = tolerance.minus = 0.05;
  const auto limits = tolerance_limits(s, tolerance);
  const std::uint64_t seed = GENERATE(1, 2, 3);
  plate::Noise noise{seed};
  const double a = 0.1 * noise(), b = 2e-3 * noise(), c = 2e-3 * noise();
  const GapMap g = plate::gap(s, 0.01, [&](const Vec3& p) { return 3 + a + b * p.x() + c * p.y() + 0.02 * noise(); });
  const Verdict v = judge(s, g, tolerance);
  const auto choice = choose_shims(s, g, limits, v.deviation, fit_rigid_part(s, g, v.deviation), o);
  REQUIRE(choice);
  auto levels = reachable_stacks(o.stock, o.max_pieces);
  levels.push_back({0.4, {0.4}});
  const Seating seating = seat(s, g, o.stations);
  ShimScore best = choice->before;
  const std::size_t n = levels.size();
  for (std::size_t code = 0; code < n * n * n * n; ++code) {
    std::vector<double> h;
    ShimScore score;
    std::vector<std::size_t> pick;
    for (std::size_t k = 0, r = code; k < 4; ++k, r /= n) pick.push_back(r % n), h.push_back(levels[r % n].total - 0.4);
    const auto plane = seating.rest(h);
    REQUIRE(plane);
    score = score_shims(s, g, limits, v.deviation, seating, *plane);
    for (std::size_t k = 0; k < 4; ++k) {
      score.loose += seating.height(*plane, k) - h[k];
      score.pieces += static_cast<int>(levels[pick[k]].pieces.size());
      score.changed += std::abs(h[k]) > 1e-9;
    }
    if (better(score, best)) best = score;
  }
  CHECK_FALSE(better(best, choice->after));
  CHECK(choice->exhaustive);
}
