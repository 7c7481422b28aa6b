#include <catch2/catch.hpp>

#include "../shared_errors.hpp"
#include "gapfront/cavity.hpp"

using namespace gapfront;

namespace {

Surface flat_with(double height, double white, const SharedNoise& shared, support::Random& random) {
  const support::SharedErrors field(shared.sigma, shared.length, random);
  std::vector<Vec3> points;
  for (double x = -30; x <= 30; ++x)
    for (double y = -30; y <= 30; ++y) {
      const Vec3 p(x + 0.3 * random.gauss(), y + 0.3 * random.gauss(), height);
      points.push_back(p + (field.at(p) + white * random.gauss()) * Vec3::UnitZ());
    }
  return Surface(std::move(points), {.spacing = 1, .noise = white, .shared = shared});
}

}  // namespace

// 95.4 % of Gaussian errors lie within U = 2 u. At 15 mm the nine places of a plate are nearly one draw.
TEST_CASE("U holds where neighbouring points err alike") {
  const double length = GENERATE(1.5, 6.0, 15.0);
  support::Random random(51);
  int inside = 0, places = 0;
  for (int k = 0; k < 60; ++k) {
    const SharedNoise shared{0.02, length};
    const Surface lower = flat_with(0, 0.005, shared, random), upper = flat_with(3, 0.005, shared, random);
    GapOptions o;
    o.u_instrument = 0;
    for (double x = -18; x <= 18; x += 18)
      for (double y = -18; y <= 18; y += 18) {
        const NodeGap g = cavity::measure_gap_at(lower, upper, Vec3(x, y, 0), Vec3::UnitZ(), o);
        REQUIRE(g.measured);
        ++places, inside += std::abs(g.gap - 3) < g.U;
      }
  }
  const double share = double(inside) / places;
  WARN("L " << length << " mm: U holds in " << 100 * share << " % of " << places);
  CHECK(share >= 0.93);
  CHECK(share <= 0.98);
}

// Without the correlation the mean over a disc would fall with the root of the number of nodes.
TEST_CASE("Fits that share errors are not independent beyond their discs") {
  support::Random random(52);
  GapOptions o;
  o.u_instrument = 0;
  const auto area = [&](const SharedNoise& shared) {
    const Surface lower = flat_with(0, 0.005, shared, random), upper = flat_with(3, 0.005, shared, random);
    return cavity::measure_gap_at(lower, upper, Vec3::Zero(), Vec3::UnitZ(), o).fit_area;
  };
  CHECK(area({0.02, 15}) > 10 * area({0, 1}));
}
