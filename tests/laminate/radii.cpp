// Inside radii: found on the sheet, bridged, and what runs along them.
#include "gapfront/radii.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "../flow/sheets.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

Ply mat(double count) {
  Ply p{laminate::find_reinforcement("chopped strand mat 450")};
  p.count = count;
  return p;
}

LaminateOptions glass(double count = 3) {
  LaminateOptions o;
  o.plies = {mat(count)};
  return o;
}

}  // namespace

// Between the sharp corner of two walls and a rounding of radius r that touches both lies r²(tan θ/2 − θ/2): two right
// triangles less a sector (elementary). At a right angle (1 − π/4) r².
TEST_CASE("The channel's section is what lies between two roundings in a corner") {
  CHECK(laminate::bridge_area(5, 12, M_PI / 2) == Approx((144 - 25) * (1 - M_PI / 4)));
  CHECK(laminate::bridge_area(0, 10, M_PI / 3) == Approx(100 * (std::tan(M_PI / 6) - M_PI / 6)));
  CHECK(laminate::bridge_area(12, 5, M_PI / 2) == 0);
}

// Beam of stiffness G under p, free of moment at both ends: turned by ∫ p x(s−x)/2G dx = p s³/12G, its sag 5 p s⁴/384G;
// walls that turn by θ meet s θ/4 below its ends (all for small θ), so its middle stands (1/4 − 5/32) s θ off the
// corner.
TEST_CASE("The free bend stands as far off the corner as a beam under an even load does") {
  const double g = 2e6, p = 5e3, turn = 0.01, radius = laminate::free_radius(g, p, turn);
  const double s = std::cbrt(12 * g * turn / p);
  CHECK(radius * (1 / std::cos(turn / 2) - 1) == Approx((1. / 4 - 5. / 32) * s * turn).epsilon(1e-3));
  CHECK(laminate::free_radius(8 * g, p, 1) == Approx(2 * laminate::free_radius(g, p, 1)));
}

TEST_CASE("Packed glass leaves no channel, tucked glass one, and the closed mold bounds it") {
  LaminateOptions o = glass();
  InsideRadius r;
  r.path = {{0, 0, 0}, {100, 0, 0}}, r.radius = 5;
  CHECK(laminate::bridge(r, o.plies, 3, o).conductance == 0);
  r.packing = Packing::roving;
  CHECK(laminate::bridge(r, o.plies, 3, o).conductance == 0);
  r.packing = Packing::tucked, r.factor = 0.05;
  const Bridge little = laminate::bridge(r, o.plies, 3, o);
  CHECK(little.height > 0);
  CHECK(little.height < little.limit);
  r.packing = Packing::loose, r.factor = 1;
  const Bridge wide = laminate::bridge(r, o.plies, 3, o);
  CHECK(wide.height == Approx(wide.limit));
  CHECK(wide.free_radius > 3 * little.free_radius);
  // Half glass by volume, 2.55 g/cm³ (E-glass), over 100 mm.
  CHECK(laminate::roving_mass(r, wide) == Approx(100 * wide.area * 0.5 * 2.55e-3));
  r.radius = 60, r.packing = Packing::tucked;  // glass lies down in it
  CHECK(laminate::bridge(r, o.plies, 3, o).conductance == 0);
}

TEST_CASE("A section across the band carries what the channel does, along it and not across") {
  const Sheet s = cavity::make_sheet(strip(60, 30, 240, 120).mesh);
  const std::vector<double> gap(s.size(), 3);
  LaminateOptions o = glass();
  const LaminateMap packed = laminate::evaluate_laminate(s, gap, o);
  InsideRadius r;
  r.path = {{-10, 61, 0}, {250, 61, 0}}, r.radius = 5, r.packing = Packing::tucked;
  o.radii = {r};
  const LaminateMap open = laminate::evaluate_laminate(s, gap, o);
  const Bridge b = laminate::bridges(s, gap, o)[0];
  REQUIRE(b.conductance > 0);
  double sum = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    sum += s.area[i] * (open.nodes[i].conductance - packed.nodes[i].conductance);
    CHECK(open.nodes[i].conductance2 == Approx(packed.nodes[i].conductance2));
    if (open.nodes[i].beside > 0) CHECK(std::abs(open.nodes[i].direction.x()) == Approx(1));
  }
  CHECK(sum == Approx(b.conductance * 260));  // over its length
  // Curves say the same.
  const LaminateMap drawn = LaminateCurves(s, gap, o)(gap);
  for (std::size_t i = 0; i < s.size(); ++i)
    CHECK(drawn.nodes[i].conductance == Approx(open.nodes[i].conductance).epsilon(1e-3));
}

TEST_CASE("A radius without a path is refused with the remedy") {
  LaminateOptions o = glass();
  o.radii.push_back({});
  CHECK_THROWS_WITH(
      laminate::evaluate_laminate(cavity::make_sheet(strip(4, 4, 20, 20).mesh), std::vector<double>(25, 3), o),
      Catch::Contains("needs a path of two places"));
}

// More glass is thicker by as much at the same packing: w times the plies in a gap, one by one.
TEST_CASE("A factor on the glass does what so many times the plies do") {
  const Sheet s = cavity::make_sheet(strip(4, 4, 20, 20).mesh);
  const std::vector<double> gap(s.size(), 2.6);
  LaminateOptions o = glass(2);
  o.plies.push_back({laminate::find_reinforcement("woven roving 600")});
  o.plies.back().count = 1;
  const LaminateMap plain = LaminateCurves(s, gap, o)(gap, std::vector<double>(s.size(), 1.1));
  for (Ply& p : o.plies) p.count *= 1.1;
  const NodeLaminate n = laminate::evaluate_stack(o.plies, 2.6, o);
  CHECK(plain.nodes[7].conductance == Approx(n.conductance).epsilon(1e-3));
  CHECK(plain.nodes[7].fluid_thickness == Approx(n.fluid_thickness));
  CHECK(plain.nodes[7].loft == Approx(n.loft));
}
