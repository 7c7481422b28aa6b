// What of a batch of glass is drawn.
#include "gapfront/draws.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/ensemble.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

LaminateOptions two_mats() {
  LaminateOptions o;
  o.plies = {{laminate::find_reinforcement("chopped strand mat 450")}};
  o.plies[0].count = 2;
  return o;
}

}  // namespace

TEST_CASE("A batch is drawn by its glass's spreads, zone plies alike, and nothing without any") {
  LaminateOptions o = two_mats();
  CHECK_FALSE(flow::batch_is_drawn(o));
  CHECK(flow::drawn_batch(o, 6, 3).plies[0].reinforcement.loft == o.plies[0].reinforcement.loft);
  LaminateZone z;
  z.adds = true, z.plies = o.plies;
  o.zones = {z};
  for (Reinforcement* r : {&o.plies[0].reinforcement, &o.zones[0].plies[0].reinforcement})
    r->spread = {.areal_weight = 0.03, .loft = 0.1, .vf = 0.05, .permeability = 0.2};
  CHECK(flow::batch_is_drawn(o));
  const int many = 1000;
  double loft = 0, k = 0;
  for (int n = 0; n < many; ++n) {
    const LaminateOptions d = flow::drawn_batch(o, 6, unsigned(n));
    const Reinforcement &a = d.plies[0].reinforcement, &b = d.zones[0].plies[0].reinforcement;
    CHECK(a.loft == b.loft);
    loft += std::pow(std::log(a.loft / o.plies[0].reinforcement.loft), 2) / many;
    k += std::pow(std::log(a.permeability.at(0.2) / o.plies[0].reinforcement.permeability.at(0.2)), 2) / many;
  }
  // A standard deviation of 1000 normal numbers is known to 1/√2000 of itself: 5 of those.
  CHECK(std::sqrt(loft) == Approx(0.1).epsilon(5 / std::sqrt(2000.)));
  CHECK(std::sqrt(k) == Approx(0.2).epsilon(5 / std::sqrt(2000.)));
  CHECK(flow::drawn_viscosity(0, 6, 1) == 1);
}

TEST_CASE("Each place scatters by the plies that lie there") {
  const Sheet s = cavity::make_sheet(strip(10, 10, 100, 100).mesh);
  LaminateOptions o = two_mats();
  o.plies[0].reinforcement.permeability.spread = 0;  // the list gives one
  CHECK(flow::scatter_model(s, o, {.spread = 0.2, .length = 50}).spread_at.empty());
  LaminateZone z;
  z.where.box = {{-1, -1, -1}, {50, 101, 1}}, z.plies = o.plies;
  z.plies[0].reinforcement.permeability.spread = 0.4, z.plies[0].reinforcement.spread.pieces = 0.05;
  o.zones = {z};
  const ScatterModel m = flow::scatter_model(s, o, {.spread = 0.2, .length = 50});
  REQUIRE(m.spread_at.size() == s.size());
  for (std::size_t i = 0; i < s.size(); ++i) CHECK(m.spread_at[i] == (s.mesh.points[i].x() <= 50 ? 0.4 : 0.2));
  CHECK(m.weight == 0.05);
  CHECK(flow::permeability_spread(o, 0.1) == 0.4);
}

TEST_CASE("The gap's and the permeability's draws stay as they are when the areal weight is drawn as well") {
  const Sheet s = cavity::make_sheet(strip(6, 4, 120, 80).mesh);
  GapMap map;
  map.nodes.resize(s.size());
  for (NodeGap& n : map.nodes) n.measured = true, n.u_lower = 0.01;
  const Draw a = Draws(s, map, {.spread = 0.2, .length = 50}, 6)(3);
  const Draw b = Draws(s, map, {.spread = 0.2, .length = 50, .spread_at = {}, .weight = 0.05}, 6)(3);
  CHECK(a.gap == b.gap);
  CHECK(a.permeability == b.permeability);
  CHECK(a.weight.empty());
  CHECK(b.weight.size() == s.size());
}

TEST_CASE("Draws vary an assumed gap by its u, and leave the rest of a draw as it is without it") {
  const Sheet s = cavity::make_sheet(strip(12, 8, 240, 160).mesh);
  GapMap map;
  map.nodes.resize(s.size());
  for (NodeGap& n : map.nodes) n.measured = true, n.u_lower = 0.01;
  const Draws draws(s, map, {.spread = 0.2, .length = 50}, 6);
  const Draw plain = draws(3);
  map.assumed.u.assign(s.size(), 0), map.assumed.length = 40;
  for (std::size_t i = 0; i < s.size(); ++i)
    if ((s.mesh.points[i] - Vec3(120, 80, 0)).norm() < 50) map.nodes[i].measured = false, map.assumed.u[i] = 0.1;
  const Draw holed = draws(3);
  CHECK(holed.permeability == plain.permeability);
  constexpr unsigned kDraws = 400;
  std::vector<double> square(s.size(), 0);
  for (unsigned k = 0; k < kDraws; ++k) {
    const Draw d = draws(k);
    for (std::size_t i = 0; i < square.size(); ++i) square[i] += d.gap[i] * d.gap[i] / kDraws;
  }
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (map.assumed.u[i] > 0)
      CHECK(std::sqrt(square[i]) == Approx(0.1).epsilon(0.18));  // five standard deviations of 400 draws
    else
      CHECK(holed.gap[i] == plain.gap[i]);
  }
}
