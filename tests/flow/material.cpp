// What a part takes of glass and resin.
#include "gapfront/material.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

// Arithmetic: 100 mm × 100 mm × 3 mm less the fibres, of 2.55 g/cm³ (E-glass), in liquid resin of 1.1 g/cm³.
TEST_CASE("A flat part takes its area times its plies, and the rest of the gap in resin") {
  const Sheet s = cavity::make_sheet(strip(10, 10, 100, 100).mesh);
  GapMap map;
  map.nodes.resize(s.size());
  for (NodeGap& n : map.nodes) n.measured = true, n.u_instrument = 0.01;
  LaminateOptions o;
  o.plies = {{laminate::find_reinforcement("chopped strand mat 450")}};
  o.plies[0].count = 2;
  o.plies[0].reinforcement.spread.areal_weight = 0.02;
  const LaminateMap m = laminate::evaluate_laminate(s, std::vector<double>(s.size(), 3), o);
  FlowOptions flow = options({{0, 0, 0}, {0, 100, 0}}, {{100, 0, 0}, {100, 100, 0}});
  const Prices prices{.currency = "EUR", .resin = 0.005, .glass = 0.003};
  Filling f = flow::fill(s, m, flow);
  const MaterialUse use = flow::material_use(s, map, m, o, flow, f, prices);
  const double glass = 0.01 * 900, solid = glass / 2.55e-3, resin = (3e4 - solid) * 1.1e-3;
  CHECK(use.glass.g == Approx(glass));
  CHECK(use.glass.U == Approx(2 * 0.02 * glass));
  CHECK(use.resin.g == Approx(resin));
  // The whole gap 0.01 mm wider, 2 % more glass in it, resin 1 % denser (JCGM 100, eq. 10).
  CHECK(use.resin.U == Approx(2 * std::hypot(std::hypot(0.01 * 1e4, 0.02 * solid) * 1.1e-3, 0.01 * resin)));
  CHECK(use.waste == 0);
  CHECK(use.cost == Approx(0.003 * glass + 0.005 * resin));
  const MaterialUse plain = flow::part_masses(s, m, o, flow);
  CHECK(plain.glass.g == use.glass.g);
  CHECK(plain.resin.g == use.resin.g);
  // A vent that passes resin for a while loses what came in and is not in the part; a hose keeps what it holds.
  flow.vents[0].bleed = 60, flow.supply.hose_length = 1000, flow.supply.hose_bore = 10;
  f = flow::fill(s, m, flow);
  const MaterialUse lossy = flow::material_use(s, map, m, o, flow, f, prices);
  CHECK(lossy.waste > 0);
  CHECK(lossy.waste == Approx((f.injected - (3e4 - solid)) * 1.1e-3).epsilon(0.05));
  CHECK(lossy.hose == Approx(M_PI * 25 * 1000 * 1.1e-3));
  CHECK(lossy.cost == Approx(use.cost + 0.005 * (lossy.waste + lossy.hose)));
  // Glass that lies in a zone is no better known.
  LaminateOptions zoned = o;
  zoned.plies.clear();
  zoned.zones.push_back({"all of it", {}, false, o.plies});
  CHECK(flow::material_use(s, map, m, zoned, flow, f, prices).glass.U == Approx(2 * 0.02 * glass));
}
