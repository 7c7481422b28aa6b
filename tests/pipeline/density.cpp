// What lies between points that were touched one by one.
#include "pipeline/density.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "../plate.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;

namespace {

/// A plate of 200 × 200 mm with a gap of 3 mm, each face touched on a square grid, and judged to conform.
Measured touched_plate(double step) {
  Measured m;
  m.sheet = cavity::make_sheet(support::plate_of(80, 80, [](int i, int j) { return Vec3(2.5 * i, 2.5 * j, 0); }));
  for (const Vec3& p : m.sheet.mesh.points) {
    NodeGap g;
    g.measured = true, g.gap = 3, g.mid = p + Vec3(0, 0, 1.5);
    m.gap.nodes.push_back(g);
  }
  std::vector<Vec3> low, high;
  for (double x = -2 * step; x <= 200 + 2 * step; x += step)
    for (double y = -2 * step; y <= 200 + 2 * step; y += step)
      low.push_back({x, y, 0}), high.push_back({x + 0.3 * step, y, 3});
  m.halves = std::make_shared<const ClosedHalves>(
      ClosedHalves{Surface(low, {.spacing = step}), Surface(high, {.spacing = step}), {}, {}});
  m.verdict.overall = Conformity::conforming, m.verdict.rule.across = 25;
  return m;
}

}  // namespace

TEST_CASE("Between points on a square grid hides what geometry says, and what decides is not conforming there") {
  Measured ten = touched_plate(10.7);  // no multiple of the nodes' distance
  const auto b = pipeline::between_points(ten.sheet, ten.gap, *ten.halves);
  CHECK(b.largest == Approx(10.7 * std::sqrt(2.0)).epsilon(0.03));
  // A disc of one step across holds no grid point with the chance 1 − π/4.
  CHECK(std::abs(b.unseen(10.7) - (1 - M_PI / 4)) < 0.03);
  CHECK(b.unseen(15.2) == 0);
  pipeline::hold_verdict_to_points(ten);
  CHECK(ten.verdict.overall == Conformity::conforming);
  CHECK(say(ten.warnings).find("a local defect up to 15 mm across could lie unseen") != std::string::npos);
  // 25 mm apart, a disc of 25 mm may lie between them.
  Measured coarse = touched_plate(25);
  pipeline::hold_verdict_to_points(coarse);
  CHECK(coarse.verdict.overall == Conformity::undecided);
  CHECK(say(coarse.verdict.headline).find("a defect of 25 mm across, the size that decides") != std::string::npos);
  // A scanner's points need no such note.
  Measured dense = touched_plate(2);
  pipeline::hold_verdict_to_points(dense);
  CHECK(dense.warnings.empty());
}
