// A hole that a program has filled in with points of its own is no measurement.
#include <catch2/catch.hpp>

#include "../cavity/dish.hpp"

using gapfront::Conformity;
using gapfront::Missing;
using gapfront::Vec3;

namespace {

/// Points of the true face, without noise, on a lattice of 0.9 mm over a disc: what a smooth patch comes to.
void fill_in(std::vector<Vec3>& points, double x, double y, double radius, double above) {
  for (double u = x - radius; u <= x + radius; u += 0.9)
    for (double v = y - radius; v <= y + radius; v += 0.9)
      if (std::hypot(u - x, v - y) < radius)
        points.push_back(Vec3(u, v, dish::height(u, v)) + above * dish::normal(u, v));
}

double area_made_up(const dish::Result& r, char half) {
  double sum = 0;
  for (std::size_t i = 0; i < r.map.made_up.size(); ++i)
    if (r.map.made_up[i] & half) sum += r.sheet.area[i];
  return sum;
}

}  // namespace

TEST_CASE("A hole of the lower scan that was filled in without noise counts as not measured, and so no mold conforms") {
  dish::Scans s = dish::scanned(dish::disc(-10, 0, 22), dish::nothing, 7);
  fill_in(s.lower, -10, 0, 22, 0);
  const dish::Result r = dish::judged(s, dish::options());
  // At its rim fits take points of both kinds.
  CHECK(area_made_up(r, 1) > 0.5 * dish::pi * 22 * 22);
  CHECK(area_made_up(r, 1) < 1.1 * dish::pi * 22 * 22);
  CHECK(area_made_up(r, 2) == 0);
  CHECK(r.verdict.overall == Conformity::undecided);
  REQUIRE_FALSE(r.verdict.unseen.empty());
  CHECK(r.verdict.unseen[0].missing == Missing::lower);
  CHECK((r.verdict.unseen[0].centre - Vec3(-10, 0, dish::height(-10, 0))).norm() < 3);
}

TEST_CASE("The same in the upper scan is put down to the upper scan") {
  dish::Scans s = dish::scanned(dish::nothing, dish::disc(-10, 0, 22), 8);
  fill_in(s.upper, -10, 0, 22, dish::gap);
  const dish::Result r = dish::judged(s, dish::options());
  CHECK(area_made_up(r, 2) > 0.5 * dish::pi * 22 * 22);
  REQUIRE_FALSE(r.verdict.unseen.empty());
  CHECK(r.verdict.unseen[0].missing == Missing::upper);
}

TEST_CASE("Noise that is a fifth of the rest's over a part of the face is a scanner's, and measured") {
  dish::Scans s = dish::scanned(dish::disc(-10, 0, 22), dish::nothing, 9);
  support::Random dice(3);
  const std::size_t first = s.lower.size();
  fill_in(s.lower, -10, 0, 22, 0);
  for (std::size_t i = first; i < s.lower.size(); ++i)
    s.lower[i] += 0.002 * dice.gauss() * dish::normal(s.lower[i].x(), s.lower[i].y());
  const dish::Result r = dish::judged(s, dish::options());
  CHECK(r.map.made_up.empty());
  CHECK(r.verdict.overall == Conformity::conforming);
}

TEST_CASE("A scan without noise anywhere has nothing made up") {
  dish::Scans s;
  fill_in(s.lower, 0, 0, 120, 0), fill_in(s.upper, 0, 0, 120, dish::gap);
  const gapfront::Surface low(s.lower, {.spacing = 1, .noise = 0}), up(s.upper, {.spacing = 1, .noise = 0});
  const gapfront::Sheet sheet = gapfront::cavity::build_sheet(low, up, dish::options());
  gapfront::GapOptions o;
  o.max_gap = 12;
  const gapfront::GapMap map = gapfront::cavity::measure_gap(sheet, low, up, {}, o);
  CHECK(map.made_up.empty());
}
