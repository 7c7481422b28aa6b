// What is given in space comes to the right nodes, and each zone gets a verdict of its own.
#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/check.hpp"
#include "gapfront/conformity.hpp"
#include "gapfront/error.hpp"
#include "gapfront/text.hpp"
#include "plate.hpp"

using namespace gapfront;

namespace {

PlaceValues raster(double half, double step, double z, const std::function<double(const Vec3&)>& value) {
  PlaceValues out;
  for (double x = -half; x <= half; x += step)
    for (double y = -half; y <= half; y += step) {
      out.places.emplace_back(x, y, z);
      out.values.push_back(value(out.places.back()));
    }
  return out;
}

const Rgb kRed{200, 0, 0}, kBlue{0, 0, 255};

/// A mesh of two big squares side by side, red for x < 0, blue for x > 0, 0.5 mm below the plate.
PaintedMesh two_squares() {
  PaintedMesh m;
  for (double x : {-100.0, 0.0, 100.0})
    for (double y : {-100.0, 100.0}) m.mesh.points.emplace_back(x, y, -0.5);
  m.mesh.triangles = {{0, 2, 3}, {0, 3, 1}, {2, 4, 5}, {2, 5, 3}};
  m.paint = {kRed, kRed, kBlue, kBlue};
  return m;
}

ToleranceOptions left_and_right() {
  ToleranceOptions o;
  Region left, right;
  left.box = {Vec3(-60, -60, -5), Vec3(-15, 60, 5)}, right.box = {Vec3(15, -60, -5), Vec3(60, 60, 5)};
  o.zones = {{"left", left, 3, 0.3, 0.3}, {"right", right, 4, 0.2, 0.2}};
  return o;
}

}  // namespace

// A plane through the places is exact for a linear field, and 1/distance² takes the value of a place itself.
TEST_CASE("A linear thickness comes exactly to every node, also beyond the last place") {
  const Sheet s = plate::sheet(100, 100, 7);
  const auto truth = [](const Vec3& p) { return 3 + 0.01 * p.x() - 0.02 * p.y(); };
  const auto v = conformity::interpolate_on_sheet(s, raster(45, 10, 1.5, truth));
  for (std::size_t i = 0; i < s.size(); ++i) CHECK(v[i] == Approx(truth(s.mesh.points[i])).margin(1e-9));
}

TEST_CASE("At a place itself the thickness is that place's, whatever the others say") {
  const Sheet s = plate::sheet(100, 100, 10);
  auto given = raster(50, 10, 0, [](const Vec3& p) { return 3 + 0.001 * p.x() * p.x(); });
  const auto v = conformity::interpolate_on_sheet(s, given);
  for (std::size_t i = 0; i < s.size(); ++i)
    CHECK(v[i] == Approx(3 + 0.001 * std::pow(s.mesh.points[i].x(), 2)).margin(1e-6));
}

TEST_CASE("Where no place is near there is no thickness, and the nominal of the job holds") {
  const Sheet s = plate::sheet(200, 200, 10);
  ToleranceOptions o;
  o.nominal = 5;
  o.nominal_field = conformity::interpolate_on_sheet(s, raster(40, 10, 0, [](const Vec3&) { return 3; }));
  const auto nominal = conformity::nominal_gap(s, o);
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double out = std::hypot(std::max(0.0, std::abs(s.mesh.points[i].x()) - 40),
                                  std::max(0.0, std::abs(s.mesh.points[i].y()) - 40));
    // Places are 10 mm apart: three of that is the reach.
    if (out < 29.9) CHECK(nominal[i] == Approx(3));
    if (out > 30.1) CHECK(nominal[i] == 5);
  }
}

TEST_CASE("On a rib 3 mm thick each side takes the thickness of its own side") {
  // Two plates back to back; the places of either are given on it: 2 mm above, 4 mm below.
  Sheet s = plate::sheet(60, 60, 10);
  const std::size_t n = s.size();
  const auto triangles = s.mesh.triangles;
  for (std::size_t i = 0; i < n; ++i) {
    s.mesh.points.push_back(s.mesh.points[i] - 3 * Vec3::UnitZ());
    s.normals.push_back(-Vec3::UnitZ());
    s.area.push_back(s.area[i]), s.rim.push_back(s.rim[i]);
  }
  for (const auto& t : triangles) s.mesh.triangles.push_back({int(n) + t[0], int(n) + t[2], int(n) + t[1]});
  PlaceValues given = raster(30, 7, 0.3, [](const Vec3&) { return 2; });
  const PlaceValues below = raster(30, 7, -3.3, [](const Vec3&) { return 4; });
  given.places.insert(given.places.end(), below.places.begin(), below.places.end());
  given.values.insert(given.values.end(), below.values.begin(), below.values.end());
  const auto v = conformity::interpolate_on_sheet(s, given);
  for (std::size_t i = 0; i < 2 * n; ++i) CHECK(v[i] == Approx(i < n ? 2 : 4));
}

TEST_CASE("A node takes the paint of the nearest face, and of none beyond the reach") {
  const Sheet s = plate::sheet(50, 50, 10);  // nodes at x = −25, −15, −5, 5 …
  const PaintedMesh m = two_squares();
  const auto red = conformity::painted_nodes(s, m, kRed, 2), blue = conformity::painted_nodes(s, m, kBlue, 2);
  for (std::size_t i = 0; i < s.size(); ++i) {
    CHECK(red[i] == (s.mesh.points[i].x() < 0));
    CHECK(blue[i] == (s.mesh.points[i].x() > 0));
  }
  CHECK_THROWS_WITH(conformity::painted_nodes(s, m, kRed, 0.4), Catch::Contains("not on the sheet"));
  CHECK_THROWS_WITH(conformity::painted_nodes(s, m, Rgb{1, 2, 3}, 2),
                    Catch::Contains("#c80000") && Catch::Contains("#0000ff"));
}

TEST_CASE("Of many paints eight are named, and the others are counted") {
  PaintedMesh m;
  for (std::uint8_t k = 1; k <= 10; ++k) m.paint.push_back({k, 0, 0});
  CHECK_THROWS_WITH(check_paint(m, kBlue), Catch::Contains("#070000, #080000 and 2 more"));
  m.paint.resize(8);
  CHECK_THROWS_WITH(check_paint(m, kBlue), Catch::EndsWith("#070000, #080000"));
  CHECK_NOTHROW(check_paint(m, {8, 0, 0}));
}

TEST_CASE("The limits of a painted zone hold on its nodes") {
  const Sheet s = plate::sheet(50, 50, 10);
  ToleranceOptions o;
  o.zones = {{"red", {}, 4, 0.1, 0.1, kRed, conformity::painted_nodes(s, two_squares(), kRed, 2)}};
  const auto limits = conformity::tolerance_limits(s, o);
  for (std::size_t i = 0; i < s.size(); ++i) {
    CHECK(limits[i].nominal == (s.mesh.points[i].x() < 0 ? 4 : 3));
    CHECK(limits[i].zone == (s.mesh.points[i].x() < 0 ? 0 : -1));
  }
  o.zones[0].nodes.clear();
  CHECK_THROWS_AS(conformity::tolerance_limits(s, o), Error);  // paint that was never brought to this sheet
}

// U = 0.1 (u = 50 µm), each node for itself. Left: gap 3.0, 0.3 inside its limits. Right: 4.15, 0.05 inside the upper
// limit of 4.2, so a scan with 1.645 u ≤ 0.05, U ≤ 0.0608, would decide. The rest: 3.0.
TEST_CASE("Each zone has its own verdict and says what would decide it") {
  const Sheet s = plate::sheet(100, 100, 10);
  const GapMap g = plate::gap(s, 0.05, [](const Vec3& p) { return p.x() > 15 ? 4.15 : 3.0; });
  ToleranceOptions o = left_and_right();
  o.min_area = 1;
  const Verdict v = conformity::judge(s, g, o);
  REQUIRE(v.zones.size() == 3);
  CHECK(v.zones[0].name == "left");
  CHECK(v.zones[0].overall == Conformity::conforming);
  CHECK(v.zones[0].would_change.empty());
  CHECK(v.zones[1].overall == Conformity::undecided);
  CHECK(v.zones[1].fraction[1] == Approx(1));
  CHECK(v.zones[1].mean == Approx(0.15));
  CHECK_THAT(say(v.zones[1].would_change), Catch::Contains("Undecided over 100.0 %") && Catch::Contains("U ≤ 0.060"));
  CHECK(v.zones[2].name.empty());  // the rest
  double area = 0;
  for (const auto& z : v.zones) area += z.area;
  CHECK(area == Approx(1e4));
  CHECK(v.overall == Conformity::undecided);
  CHECK_THAT(say(v.would_change), Catch::Contains("Undecided over 35.0 %"));  // columns x = 20, 30, 40 and half of 50
}

// JCGM 100:2008 eq. 16: of a mean over N equal areas, independent parts are u/√N, common ones u.
TEST_CASE("The budget of the mean keeps what all nodes share and shrinks what they do not") {
  const Sheet s = plate::sheet(200, 200, 10);
  GapMap g = plate::gap(s, 0.02, [](const Vec3&) { return 3.0; });
  for (auto& n : g.nodes) n.u_instrument = 0.01, n.u_temperature = 0.003;
  g.registration(2, 2) = 0.015 * 0.015;
  const MeanBudget b = conformity::judge(s, g, {}).mean_budget;
  double sum = 0, square = 0;
  for (double a : s.area) sum += a, square += a * a;
  CHECK(b.lower == Approx(0.02 / std::sqrt(2) * std::sqrt(square) / sum));
  CHECK(b.upper == Approx(b.lower));
  CHECK(b.instrument == Approx(0.01));
  CHECK(b.temperature == Approx(0.003));
  CHECK(b.registration == Approx(0.015));
  CHECK(b.U == Approx(2 * std::sqrt(2 * b.lower * b.lower + 1e-4 + 9e-6 + 2.25e-4)));
  // Heave over a symmetric plate only: a tilt about its middle lifts one side as much as it lowers the other.
  g.registration.setZero();
  g.registration(3, 3) = 1e-6;
  CHECK(conformity::judge(s, g, {}).mean_budget.registration == Approx(0).margin(1e-12));
}

// Fits of 400 mm² on nodes of some 100 mm²: an area A has the points of A/400 fits, however many nodes lie on it. Fits
// at the outline reach out over it: with ρ the likeness of two fits, r their radius, ∫∫ρ over a rectangle loses (a +
// b)·∫ρ|x| = (a + b)·0.113 r³ (of the table of ρ), here 682e3 of 400 · 200², 4.3 %.
TEST_CASE("Fits that reach over several nodes count once") {
  const Sheet s = plate::sheet(200, 200, 10);
  GapMap g = plate::gap(s, 0.02, [](const Vec3&) { return 3.0; });
  std::vector<int> all;
  for (int i = 0; i < int(s.size()); ++i) all.push_back(i);
  for (auto& n : g.nodes) n.fit_area = 400;
  CHECK(conformity::mean_budget(s, g, all).lower ==
        Approx(0.02 / std::sqrt(2) * std::sqrt(0.957 * 400.0 / (200 * 200))).epsilon(0.01));
}
