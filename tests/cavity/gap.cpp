#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdlib>
#include "gap_cases.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {

using Truth = std::function<double(const Point&)>;

Truth constant(double gap) {
  return [=](const Point&) { return gap; };
}

struct Result {
  int measured = 0, missed = 0;
  double worst = 0, rms = 0;
};

/// Measures on a grid of ±range mm over the lower face; sign −1 when the cavity is on the other side of its normal.
Result run(const Face& lower, const Face& upper, const Truth& truth, double noise, double sign = 1, double range = 7) {
  const Surface lo(sampled_face(lower, -14, 14, -14, 14, 1, noise, 1), {.spacing = 1, .noise = noise});
  const Surface up(sampled_face(upper, -17, 17, -17, 17, 1, noise, 2), {.spacing = 1, .noise = noise});
  GapOptions options;
  Result r;
  for (double u = -range; u <= range; u += 0.83)
    for (double v = -range; v <= range; v += 0.91) {
      Point p = lower(u, v);
      p.normal *= sign;
      const NodeGap g = cavity::measure_gap_at(lo, up, p.place, p.normal, options);
      if (!g.measured) {
        ++r.missed;
        continue;
      }
      const double e = g.gap - truth(p);
      ++r.measured;
      r.worst = std::max(r.worst, std::abs(e));
      r.rms += e * e;
    }
  r.rms = std::sqrt(r.rms / std::max(1, r.measured));
  return r;
}

/// Bar of design §11: 2 µm + 0.05 % of the gap (3 mm), noise-free at 1 mm spacing.
constexpr double bias_bar = 2e-3 + 5e-4 * 3;

/// Ball tangent to the inner circle (radius R1 about O, direction m) that touches the outer one (R2 about e):
/// |(R1 + r) m − e| = R2 − r, solved for r. The common ground of eccentric cylinders and spheres.
Truth eccentric(double R1, double R2, const Vec3& e) {
  return [=](const Point& p) {
    const double me = p.normal.dot(e);
    return (R2 * R2 - R1 * R1 + 2 * R1 * me - e.squaredNorm()) / (R1 + R2 - me);
  };
}

/// Upper plane inclined by `angle` at height 3 over the origin. The ball tangent to z = 0 at x with radius r is at
/// distance (h − r) cos θ from it, h = 3 + x tan θ; equal to r: 2r = 2 h cos θ/(1 + cos θ).
constexpr double angle = 0.1;
Face inclined() { return plane(3 * Z, Vec3(std::cos(angle), 0, std::sin(angle)), Y); }
Truth wedge() {
  return [](const Point& p) {
    const double h = 3 + p.place.x() * std::tan(angle), c = std::cos(angle);
    return 2 * h * c / (1 + c);
  };
}

void check_clean(const Result& r) {
  CHECK(r.missed == 0);
  CHECK(r.worst <= bias_bar);
}

Sheet flat_sheet(double half, double edge) {
  Sheet sheet;
  const int n = int(std::lround(2 * half / edge)) + 1;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) sheet.mesh.points.emplace_back(-half + i * edge, -half + j * edge, 0);
  for (int j = 0; j + 1 < n; ++j)
    for (int i = 0; i + 1 < n; ++i) {
      const int a = j * n + i;
      sheet.mesh.triangles.push_back({a, a + 1, a + n + 1});
      sheet.mesh.triangles.push_back({a, a + n + 1, a + n});
    }
  sheet.normals.assign(sheet.mesh.points.size(), Z);
  sheet.area.assign(sheet.mesh.points.size(), edge * edge);
  sheet.rim.assign(sheet.mesh.points.size(), 0);
  return sheet;
}

}  // namespace

TEST_CASE("Between parallel planes the gap is their distance") {
  check_clean(run(plane(O, X, Y), plane(3 * Z, X, Y), constant(3), 0));
}

TEST_CASE("In a wedge the gap is the circle inscribed at the node") {
  check_clean(run(plane(O, X, Y), inclined(), wedge(), 0));
}

TEST_CASE("In a wedge the length along the lower normal is the height of the upper plane") {
  const Surface lo(sampled_face(plane(O, X, Y), -14, 14, -14, 14, 1, 0, 1), {.spacing = 1, .noise = 0});
  const Surface up(sampled_face(inclined(), -17, 17, -17, 17, 1, 0, 2), {.spacing = 1, .noise = 0});
  const NodeGap g = cavity::measure_gap_at(lo, up, Vec3(4, 1, 0), Z, {});
  REQUIRE(g.measured);
  CHECK(g.along_normal == Approx(3 + 4 * std::tan(angle)).margin(1e-6));
  // The chord from foot to foot halves the wedge: it leans by half its angle.
  CHECK(std::acos(g.direction.z()) == Approx(angle / 2).margin(1e-6));
}

TEST_CASE("A ball touching both faces gives the gap of concentric cylinders, from either side") {
  check_clean(run(cylinder(O, 15), cylinder(O, 18), constant(3), 0));
  check_clean(run(cylinder(O, 18), cylinder(O, 15), constant(3), 0, -1));
}

TEST_CASE("A ball touching both faces gives the gap of eccentric cylinders") {
  const Vec3 e(0.4, 0, 0.3);
  check_clean(run(cylinder(O, 15), cylinder(e, 18.5), eccentric(15, 18.5, e), 0));
}

TEST_CASE("A ball touching both faces gives the gap of concentric spheres, from either side") {
  check_clean(run(sphere(O, 15), sphere(O, 18), constant(3), 0));
  check_clean(run(sphere(O, 18), sphere(O, 15), constant(3), 0, -1));
}

TEST_CASE("In a bend of two tori about one ring the gap is the difference of their tubes") {
  check_clean(run(torus(40, 15), torus(40, 18), constant(3), 0));
  check_clean(run(torus(40, 18), torus(40, 15), constant(3), 0, -1));
}

TEST_CASE("Scan noise of 20 µm at 1 mm spacing leaves the gap repeatable to 8 µm") {
  CHECK(run(plane(O, X, Y), plane(3 * Z, X, Y), constant(3), 0.02).rms <= 8e-3);
  CHECK(run(plane(O, X, Y), inclined(), wedge(), 0.02).rms <= 8e-3);
  CHECK(run(cylinder(O, 15), cylinder(O, 18), constant(3), 0.02).rms <= 8e-3);
  CHECK(run(sphere(O, 18), sphere(O, 15), constant(3), 0.02, -1).rms <= 8e-3);
  CHECK(run(torus(40, 15), torus(40, 18), constant(3), 0.02).rms <= 8e-3);
}

TEST_CASE("Near a step of the upper face the gap on either side is that side's") {
  // Upper at 3 mm for x < 0 and 4 mm for x > 0; nodes 3 mm and more from the step.
  const Surface lo(sampled_face(plane(O, X, Y), -14, 14, -14, 14, 1, 0.02, 1), {.spacing = 1, .noise = 0.02});
  auto points = sampled_face(plane(3 * Z, X, Y), -14, -0.5, -14, 14, 1, 0.02, 2);
  append(points, sampled_face(plane(4 * Z, X, Y), 0.5, 14, -14, 14, 1, 0.02, 3));
  const Surface up(points, {.spacing = 1, .noise = 0.02});
  for (double x : {-7.0, -5.0, -3.0, 3.0, 5.0, 7.0}) {
    const NodeGap g = cavity::measure_gap_at(lo, up, Vec3(x, 0.2, 0), Z, {});
    REQUIRE(g.measured);
    CHECK(std::abs(g.gap - (x < 0 ? 3 : 4)) < 0.03);
  }
}

TEST_CASE("Between two facing walls each node finds its own side of the rib between them") {
  // Channel of the lower half 8 mm wide; a rib of the upper half 2 mm thick hangs in it, 3 mm from either wall.
  auto walls = sampled_face(plane(O, Y, Z), -14, 14, -14, 14, 1, 0.02, 1);
  append(walls, sampled_face(plane(8 * X, Y, Z), -14, 14, -14, 14, 1, 0.02, 2));
  auto rib = sampled_face(plane(3 * X, Y, Z), -14, 14, -14, 14, 1, 0.02, 3);
  append(rib, sampled_face(plane(5 * X, Y, Z), -14, 14, -14, 14, 1, 0.02, 4));
  const Surface lo(walls, {.spacing = 1, .noise = 0.02}), up(rib, {.spacing = 1, .noise = 0.02});
  for (double y : {-6.0, 0.0, 5.5}) {
    const NodeGap left = cavity::measure_gap_at(lo, up, Vec3(0, y, 1), X, {}),
                  right = cavity::measure_gap_at(lo, up, Vec3(8, y, 1), -X, {});
    REQUIRE(left.measured);
    REQUIRE(right.measured);
    CHECK(left.gap == Approx(3).margin(0.03));
    CHECK(right.gap == Approx(3).margin(0.03));
    CHECK(left.mid.x() == Approx(1.5).margin(0.03));
    CHECK(right.mid.x() == Approx(6.5).margin(0.03));
  }
}

TEST_CASE("Over a lower rib 3 mm thick each face is measured to its own side") {
  auto rib = sampled_face(plane(O, Y, Z), -14, 14, -14, 14, 1, 0.02, 1);
  append(rib, sampled_face(plane(-3 * X, Y, Z), -14, 14, -14, 14, 1, 0.02, 2));
  auto walls = sampled_face(plane(2 * X, Y, Z), -14, 14, -14, 14, 1, 0.02, 3);
  append(walls, sampled_face(plane(-7 * X, Y, Z), -14, 14, -14, 14, 1, 0.02, 4));
  const Surface lo(rib, {.spacing = 1, .noise = 0.02}), up(walls, {.spacing = 1, .noise = 0.02});
  CHECK(cavity::measure_gap_at(lo, up, O, X, {}).gap == Approx(2).margin(0.03));
  CHECK(cavity::measure_gap_at(lo, up, -3 * X, -X, {}).gap == Approx(4).margin(0.03));
}

TEST_CASE("A rib 1 mm thick does not pass the cavity behind it for an overlap of the halves") {
  // Gap 4 mm before the rib, 1 mm behind it: the face behind is nearer than the one in front.
  auto rib = sampled_face(plane(O, Y, Z), -14, 14, -14, 14, 0.4, 0, 1);
  append(rib, sampled_face(plane(-X, Y, Z), -14, 14, -14, 14, 0.4, 0, 2));
  auto walls = sampled_face(plane(4 * X, Y, Z), -14, 14, -14, 14, 0.4, 0, 3);
  append(walls, sampled_face(plane(-2 * X, Y, Z), -14, 14, -14, 14, 0.4, 0, 4));
  CHECK(cavity::measure_gap_at(Surface(rib, {.spacing = 0.4, .noise = 0}), Surface(walls, {.spacing = 0.4, .noise = 0}),
                               O, X, {})
            .gap == Approx(4).margin(1e-3));
}

TEST_CASE("Halves that interpenetrate have a negative gap") {
  for (double overlap : {0.02, 0.5, 2.0}) {
    const Surface lo(sampled_face(plane(O, X, Y), -14, 14, -14, 14, 1, 0, 1), {.spacing = 1, .noise = 0});
    const Surface up(sampled_face(plane(-overlap * Z, X, Y), -14, 14, -14, 14, 1, 0, 2), {.spacing = 1, .noise = 0});
    const NodeGap g = cavity::measure_gap_at(lo, up, O, Z, {});
    REQUIRE(g.measured);
    CHECK(g.gap == Approx(-overlap).margin(1e-6));
    CHECK(g.direction.z() == Approx(1).margin(1e-9));
  }
}

TEST_CASE("A node without support on either side, or beyond the greatest gap, is not measured") {
  std::vector<Vec3> holed;
  for (const Vec3& p : sampled_face(plane(O, X, Y), -20, 20, -20, 20, 1, 0, 1))
    if (p.norm() > 5) holed.push_back(p);
  auto lifted = holed;
  for (Vec3& p : lifted) p.z() += 3;
  const Surface hole_below(holed, {.spacing = 1, .noise = 0}), hole_above(lifted, {.spacing = 1, .noise = 0});
  const Surface below(sampled_face(plane(O, X, Y), -20, 20, -20, 20, 1, 0, 3), {.spacing = 1, .noise = 0});
  const Surface above(sampled_face(plane(3 * Z, X, Y), -20, 20, -20, 20, 1, 0, 4), {.spacing = 1, .noise = 0});
  const Surface far(sampled_face(plane(13 * Z, X, Y), -20, 20, -20, 20, 1, 0, 4), {.spacing = 1, .noise = 0});
  CHECK_FALSE(cavity::measure_gap_at(hole_below, above, O, Z, {}).measured);
  CHECK_FALSE(cavity::measure_gap_at(below, hole_above, O, Z, {}).measured);
  CHECK_FALSE(cavity::measure_gap_at(below, far, O, Z, {}).measured);
  CHECK(cavity::measure_gap_at(hole_below, above, Vec3(11, 0, 0), Z, {}).measured);
}

TEST_CASE("Scan lines three times as far apart as the points along them widen U a little, and it holds") {
  // Three lines, or four, lie within a fit's radius. Here and there they tell nothing: that is no measurement.
  const auto lines = [](double z, unsigned seed) {
    support::FineRandom random(seed);
    std::vector<Vec3> points;
    for (double v = -28; v <= 28; v += 2.8)
      for (double u = -29; u <= 29; u += 0.94) points.emplace_back(u, v, z + 0.02 * random.gauss());
    return points;
  };
  const Surface lo(lines(0, 3), {.spacing = 0.95, .noise = 0.02}), up(lines(3, 4), {.spacing = 0.95, .noise = 0.02});
  const GapOptions options;
  const GapMap map = cavity::measure_gap(flat_sheet(18, 1.5), lo, up, {}, options);
  int told = 0, within = 0, beyond = 0;
  std::vector<double> U;
  for (const NodeGap& g : map.nodes) {
    if (!g.measured) continue;
    ++told, within += std::abs(g.gap - 3) <= g.U, beyond += g.U > options.nominal;
    U.push_back(g.U);
  }
  CHECK(told >= 0.99 * double(map.nodes.size()));
  CHECK(within >= 0.95 * told);
  CHECK(beyond == 0);
  // With both instruments 28 µm come of them alone (2 · √2 · 10 µm).
  std::nth_element(U.begin(), U.begin() + told / 2, U.end());
  CHECK(U[std::size_t(told / 2)] < 0.05);
}

TEST_CASE("The map counts the area that is not measured and carries the registration along") {
  const Surface lo(sampled_face(plane(O, X, Y), -20, 20, -20, 20, 1, 0, 3), {.spacing = 1, .noise = 0});
  const Surface up(sampled_face(plane(3 * Z, X, Y), -20, 0, -20, 20, 1, 0, 4), {.spacing = 1, .noise = 0});
  Alignment alignment;
  alignment.covariance.diagonal().setConstant(1e-6);
  alignment.pivot = Vec3(1, 2, 3);
  const Sheet sheet = flat_sheet(15, 5);  // 7 × 7 nodes, x = −15 … 15; x = 5, 10, 15 have nothing above
  const GapMap map = cavity::measure_gap(sheet, lo, up, alignment, {});
  // By area, not by nodes: the sheet reaches to x = 17.5 and is 35 mm wide, the upper scan ends at x = 0; a scan covers
  // up to a spacing or two beyond its last row.
  CHECK(map.unmeasured_area > 15.5 * 35);
  CHECK(map.unmeasured_area < 17.5 * 35);
  CHECK(map.registration == alignment.covariance);
  CHECK(map.pivot == alignment.pivot);
  CHECK(map.coverage == 2);
}

TEST_CASE("A sheet on which nothing can be measured is refused") {
  const Surface lo(sampled_face(plane(O, X, Y), -20, 20, -20, 20, 1, 0, 3), {.spacing = 1, .noise = 0});
  const Surface up(sampled_face(plane(300 * Z, X, Y), -20, 0, -20, 20, 1, 0, 4), {.spacing = 1, .noise = 0});
  CHECK_THROWS_AS(cavity::measure_gap(flat_sheet(10, 5), lo, up, {}, {}), Error);
}

TEST_CASE("Settings below zero, or that are no numbers, are refused") {
  for (const auto value : {&GapOptions::max_gap, &GapOptions::fit_radius, &GapOptions::u_instrument,
                           &GapOptions::u_temperature, &GapOptions::coverage})
    for (const double bad : {-1.0, double(NAN)}) {
      GapOptions o;
      o.*value = bad;
      CHECK_THROWS_AS(check_options(o), Error);
    }
  CHECK_NOTHROW(check_options(GapOptions{}));
}

TEST_CASE("The number of threads does not change one bit of the gap") {
  const Surface lo(sampled_face(cylinder(O, 60), -20, 20, -20, 20, 1, 0.02, 3), {.spacing = 1, .noise = 0.02});
  const Surface up(sampled_face(cylinder(O, 63), -20, 20, -20, 20, 1, 0.02, 4), {.spacing = 1, .noise = 0.02});
  Sheet sheet = flat_sheet(12, 1.5);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    Vec3& p = sheet.mesh.points[i];
    p.z() = std::sqrt(3600 - p.x() * p.x());
    sheet.normals[i] = Vec3(p.x(), 0, p.z()).normalized();
  }
  std::vector<GapMap> maps;
  for (const char* threads : {"1", "2", "8"}) {
    setenv("GAPFRONT_THREADS", threads, 1);
    maps.push_back(cavity::measure_gap(sheet, lo, up, {}, {}));
  }
  unsetenv("GAPFRONT_THREADS");
  for (std::size_t i = 0; i < sheet.size(); ++i)
    for (std::size_t k : {1u, 2u}) {
      CHECK(maps[k].nodes[i].gap == maps[0].nodes[i].gap);
      CHECK(maps[k].nodes[i].U == maps[0].nodes[i].U);
    }
}

TEST_CASE("Points as far apart as a probe's, 8 to 25 mm, leave no place of a smooth face out, and U holds") {
  // A ball of the greatest gap, 12 mm, passes between points that are 10.4 mm apart or more over a gap of 3 mm.
  for (const double spacing : {8.0, 10.0, 15.0, 25.0}) {
    const double far = 9 * spacing, near = 2 * spacing;
    const Surface lower(sampled_face(sphere(-800 * Z, 800), -far, far, -far, far, spacing, 0.005, 3),
                        {.spacing = spacing, .noise = 0.005});
    const Surface upper(sampled_face(sphere(-800 * Z, 803), -far, far, -far, far, spacing, 0.005, 4),
                        {.spacing = spacing, .noise = 0.005});
    support::FineRandom dice(5);
    int missed = 0, within = 0;
    for (int k = 0; k < 60; ++k) {
      const Point p = sphere(-800 * Z, 800)(near * (2 * dice.uniform() - 1), near * (2 * dice.uniform() - 1));
      const NodeGap g = cavity::measure_gap_at(lower, upper, p.place, p.normal, {.u_instrument = 0});
      missed += !g.measured, within += std::abs(g.gap - 3) <= g.U;
    }
    INFO("spacing " << spacing << " mm");
    CHECK(missed == 0);
    CHECK(within >= 56);  // of 60: 95 % less two standard deviations
  }
}
