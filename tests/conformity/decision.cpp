#include <catch2/catch.hpp>

#include "gapfront/conformity.hpp"
#include "gapfront/error.hpp"
#include "plate.hpp"

using namespace gapfront;

// references.md eq. 18 (ISO 14253-1): 10.00 ± 0.05 mm, y = 10.03, U = 0.04: above USL − U = 10.01, below USL + U.
TEST_CASE("A reading nearer to its limit than U is undecided") {
  CHECK(conformity::decide(10.03, {9.95, 10.05}, 0.04) == Conformity::undecided);
}

// JCGM 106:2012 §8.3: acceptance interval [LSL + U, USL − U], closed; rejection strictly beyond the limit by U.
TEST_CASE("The guard bands of JCGM 106 are closed on the conforming side and open on the rejecting side") {
  // Powers of two, so that the sums are exact.
  const double low = 2.75, high = 3.25, U = 0.125;
  CHECK(conformity::decide(2.875, {low, high}, U) == Conformity::conforming);
  CHECK(conformity::decide(3.125, {low, high}, U) == Conformity::conforming);
  CHECK(conformity::decide(3.126, {low, high}, U) == Conformity::undecided);
  CHECK(conformity::decide(3.375, {low, high}, U) == Conformity::undecided);
  CHECK(conformity::decide(3.376, {low, high}, U) == Conformity::nonconforming);
  CHECK(conformity::decide(2.625, {low, high}, U) == Conformity::undecided);
  CHECK(conformity::decide(2.624, {low, high}, U) == Conformity::nonconforming);
}

TEST_CASE("With U wider than half the tolerance nothing can conform") {
  CHECK(conformity::decide(3.0, {2.9, 3.1}, 0.11) == Conformity::undecided);
}

TEST_CASE("Later zones win and a nominal field wins over zones") {
  const Sheet s = plate::sheet(20, 20, 10);
  ToleranceOptions o;
  Region right;
  right.box = {Vec3(5, -50, -5), Vec3(50, 50, 5)};
  o.zones = {{"all", {}, 4, 0.1, 0.1}, {"right", right, 5, 0.2, 0.4}};
  CHECK(conformity::nominal_gap(s, o) == std::vector<double>{4, 4, 5, 4, 4, 5, 4, 4, 5});
  o.nominal_field.assign(9, 6);
  const auto limits = conformity::tolerance_limits(s, o);
  CHECK(limits[2].nominal == 6);
  CHECK(limits[2].high == Approx(6.4));
  CHECK(limits[2].low == Approx(5.8));
}

TEST_CASE("A negative tolerance is refused by name") {
  ToleranceOptions o;
  o.zones = {{"rib", {}, 4, -0.1, 0.1}};
  CHECK_THROWS_WITH(conformity::tolerance_limits(plate::sheet(20, 20, 10), o), Catch::Contains("rib"));
  o = {};
  o.nominal = -3;
  CHECK_THROWS_AS(conformity::tolerance_limits(plate::sheet(20, 20, 10), o), Error);
}
