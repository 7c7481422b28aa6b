// Bubbles that the front leaves, against closed forms.
#include "gapfront/residual_air.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>

#include "gapfront/error.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// A straight front at a constant rate so that Ca* is the same everywhere, and the inlet ends 1 bar over the vents.
struct BubbleLane {
  static constexpr double kLength = 200, kWidth = 40, kPhi = 0.83, kH = 3, kMu = 0.2;
  static constexpr double kUnitSpeed = 175;  // Ca* = µ v/γ is 1 there, mm/s

  Sheet sheet = strip(80, 8, kLength, kWidth);
  LaminateMap laminate;
  FlowOptions o = options({{0, 0, 0}, {0, kWidth, 0}}, {{kLength, 0, 0}, {kLength, kWidth, 0}});
  AirOptions air{true, 0};
  std::vector<double> pressure;  ///< at the end, absolute, Pa

  explicit BubbleLane(double capillary) {
    const double v = capillary * kUnitSpeed;
    laminate = uniform(sheet, state(BubbleLane::kMu * v * BubbleLane::kPhi * BubbleLane::kLength / 1e5, BubbleLane::kH,
                                    BubbleLane::kPhi));  // Δp = µ v φ L/K (references, 5)
    o.schedule = {{0, v * BubbleLane::kPhi * BubbleLane::kH * BubbleLane::kWidth}}, o.pressure_limit = 1e9,
    o.surface_tension = 35e-6;
    o.cavity_pressure = 0.5 * atmosphere_pa;
  }
  ResidualAir run() {
    const Filling f = flow::fill_watched(sheet, laminate, o, [&](double, double, const auto& p) { pressure = p; });
    return flow::residual_air(sheet, laminate, o, f, air);
  }
  /// Gas of the bubbles that are in the laminate at the end, by place: Pa·mm³.
  std::vector<double> gas(const std::vector<double>& share) const {
    std::vector<double> out;
    for (std::size_t i = 0; i < sheet.size(); ++i)
      out.push_back(share[i] * sheet.area[i] * BubbleLane::kH * pressure[i]);
    return out;
  }
};

double all_of(const std::vector<double>& v) { return std::accumulate(v.begin(), v.end(), 0.0); }

}  // namespace

// A tenfold slower than the window: 3 % of the pores, at 0.5 atm. Boyle: s = 0.03 φ p_vent/p.
TEST_CASE("Bubbles that do not move are pressed together as Boyle says") {
  for (const bool fast : {false, true}) {
    BubbleLane lane(fast ? 1e-1 : 1e-4);
    lane.air.mobility = fast ? 0.9 : 0;  // inside the bundles nothing moves
    const ResidualAir a = lane.run();
    const auto& here = fast ? a.inside : a.between;
    const auto& none = fast ? a.between : a.inside;
    double worst = 0;
    int seen = 0;
    for (std::size_t i = 0; i < lane.sheet.size(); ++i) {
      const double x = lane.sheet.mesh.points[i].x();
      if (x < 20 || x > 180) continue;  // the ends are the mesh's matter
      const double expected = 0.03 * BubbleLane::kPhi * lane.o.cavity_pressure / lane.pressure[i];
      worst = std::max(worst, std::abs(here[i] / expected - 1)), ++seen;
    }
    CHECK(seen > 500);
    CHECK(worst < 0.02);
    CHECK(all_of(none) == 0);
    // 1 bar over half an atmosphere presses 2.5 % at the vent to 0.8 % at the inlet: bubbles count at the far end only.
    const AirClass what = fast ? AirClass::in_bundles : AirClass::between_bundles;
    CHECK(a.node[lane.sheet.size() - 2] == what);
    CHECK(a.node[3] == AirClass::sound);
    CHECK(a.area[0] + a.area[static_cast<std::size_t>(what)] == Approx(BubbleLane::kLength * BubbleLane::kWidth));
    CHECK(a.held[0] ==
          Approx(BubbleLane::kLength * BubbleLane::kWidth));  // the inlet's pressure everywhere makes all of it sound
  }
}

// Darcy's flow is even along a strip, so that what moves m times as fast as resin, left at x₀, stands at
// (1 − m) x₀ + m L when the front is at L: gas that was even over the strip lies evenly over its last (1 − m) L.
TEST_CASE("Bubbles that move lie where a straight front has carried them") {
  double off[2];
  for (const int finer : {0, 1}) {
    BubbleLane lane(1e-4);
    lane.sheet = strip(finer ? 160 : 80, 8, BubbleLane::kLength, BubbleLane::kWidth);
    lane.laminate.nodes.resize(lane.sheet.size(), lane.laminate.nodes[0]);
    lane.air.mobility = 0.5;
    const ResidualAir a = lane.run();
    const auto gas = lane.gas(a.between);
    double moment = 0, behind = 0, middle = 0;
    for (std::size_t i = 0; i < gas.size(); ++i) {
      const double x = lane.sheet.mesh.points[i].x();
      moment += gas[i] * x;
      if (x < 80) behind += gas[i];
      if (x >= 130 && x <= 170) middle += gas[i];
    }
    const double all = all_of(gas);
    off[finer] = moment / all - 0.75 * BubbleLane::kLength;
    WARN("bubbles: middle off by " << off[finer] << " mm of 150, behind 80 mm " << 100 * behind / all
                                   << " %, from 130 to 170 mm " << 100 * middle / all << " % of 40");
    CHECK(all == Approx(a.formed_between * atmosphere_pa).epsilon(1e-9));
    CHECK(behind < 0.02 * all);
    CHECK(middle == Approx(0.4 * all).epsilon(0.05));
  }
  // Upwinding holds back what it smears ahead of the front: less than a cell of 2.5 mm, and half of that on half the
  // edge.
  CHECK(std::abs(off[0]) < 2.5);
  CHECK(std::abs(off[1]) < 0.6 * std::abs(off[0]));
}

TEST_CASE("Gas of bubbles leaves with resin through a vent that bleeds, and through nothing else") {
  // Vacuum stays on behind the vents in both; amid the way a vent that closes at once, or after a while.
  BubbleLane lane(1e-4);
  lane.air.mobility = 0.5;
  lane.o.vents.push_back({"midway", {{100, 20, 0}}, 8, 0});
  const ResidualAir closed = lane.run();
  CHECK(closed.bled == 0);
  CHECK(all_of(lane.gas(closed.between)) == Approx(closed.formed_between * atmosphere_pa).epsilon(1e-9));
  lane.o.vents[1].bleed = 2000;  // of some 11 000 s
  const ResidualAir bled = lane.run();
  CHECK(bled.bled > 0.01 * bled.formed_between);
  CHECK(all_of(lane.gas(bled.between)) ==
        Approx((bled.formed_between - bled.bled - bled.to_pockets) * atmosphere_pa).epsilon(1e-6));
  // Inside the bundles it stays.
  BubbleLane fast(1e-1);
  fast.o.vents.push_back({"midway", {{100, 20, 0}}, 8, 2});
  const ResidualAir inside = fast.run();
  CHECK(all_of(fast.gas(inside.inside)) == Approx(inside.formed_inside * atmosphere_pa).epsilon(1e-6));
}

TEST_CASE("What resin never reaches is dry, and in the window of speeds the rest is sound") {
  BubbleLane lane(3e-3);
  const ResidualAir a = lane.run();
  CHECK(a.area[0] == Approx(BubbleLane::kLength * BubbleLane::kWidth));
  CHECK(a.worst == -1);
  lane.o.vents[0].blocked_from = 0;  // shut in: pressed to the far end
  const ResidualAir b = lane.run();
  CHECK(b.area[static_cast<std::size_t>(AirClass::dry)] > 0);
}

TEST_CASE("Residual air costs nothing where it is not asked for, and refuses what it cannot be had from") {
  BubbleLane lane(1e-4);
  const Filling f = flow::fill_watched(lane.sheet, lane.laminate, lane.o, {});
  CHECK_FALSE(flow::residual_air(lane.sheet, lane.laminate, lane.o, f, {}).computed);
  CHECK_THROWS_AS(flow::residual_air(lane.sheet, lane.laminate, lane.o, f, {true, 1}), Error);
  CHECK_THROWS_AS(flow::residual_air(lane.sheet, lane.laminate, lane.o, {}, {true, 0.5}), Error);
  lane.o.surface_tension = 0;
  CHECK_THROWS_AS(flow::residual_air(lane.sheet, lane.laminate, lane.o, f, {true, 0.5}), Error);
}
