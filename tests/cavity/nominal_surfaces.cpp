// The gap between nominal meshes, a sheet made on one, and a probe's tip taken off without directions.
#include <catch2/catch.hpp>
#include "gap_cases.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {

/// Facets of a face over ±half mm, `step` mm long.
Mesh facets(const Face& face, double half, double step) {
  Mesh m;
  const int n = int(std::lround(2 * half / step)) + 1;
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j) m.points.push_back(face(-half + i * step, -half + j * step).place);
  for (int i = 0; i + 1 < n; ++i)
    for (int j = 0; j + 1 < n; ++j) {
      const int a = i * n + j, b = a + n, c = b + 1, d = a + 1;
      m.triangles.push_back({a, b, c}), m.triangles.push_back({a, c, d});
    }
  return m;
}

}  // namespace

TEST_CASE("The nominal gap is the ball between the nominal surfaces, also where they are not parallel") {
  // Cylinders of 60 and 63.5 mm whose axes lie 0.5 mm apart along z: the gap at angle a from the top is, by the formula
  // of "eccentric cylinders", (R2² − R1² + 2 R1 e cos a − e²)/(R1 + R2 − e cos a): 4.0 mm at the top. Facets of 1 mm
  // have a sagitta of 1²/(8·60) = 2 µm on either side, two thirds of it on average, of the same sign.
  const double R1 = 60, R2 = 63.5, e = 0.5;
  const Surface lower = cavity::surface_of(facets(cylinder(O, R1), 30, 1), 0.5),
                upper = cavity::surface_of(facets(cylinder(e * Z, R2), 34, 1), 0.5);
  Sheet sheet = cavity::make_sheet(facets(cylinder(O, R1), 20, 4));
  GapOptions options;
  options.nominal = 3.5;
  const auto gap = cavity::nominal_surfaces_gap(sheet, lower, upper, options);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3 p = sheet.mesh.points[i];
    const double ec = e * p.z() / std::hypot(p.x(), p.z());
    CHECK(gap[i] == Approx((R2 * R2 - R1 * R1 + 2 * R1 * ec - e * e) / (R1 + R2 - ec)).margin(0.004));
  }
}

TEST_CASE("Where the nominal surfaces have no gap of their own it comes from the nodes around, and not over most") {
  const Surface lower = cavity::surface_of(facets(plane(O, X, Y), 30, 5), 0.5);
  auto holed = facets(plane(3 * Z, X, Y), 30, 5);
  std::erase_if(holed.triangles, [&](const std::array<int, 3>& t) { return holed.points[t[0]].head<2>().norm() < 7; });
  const Sheet sheet = cavity::make_sheet(facets(plane(O, X, Y), 20, 4));
  GapOptions options;
  for (double g : cavity::nominal_surfaces_gap(sheet, lower, cavity::surface_of(holed, 0.5), options))
    CHECK(g == Approx(3).margin(1e-6));
  const Surface away = cavity::surface_of(facets(plane(3 * Z + 45 * X, X, Y), 30, 5), 0.5);
  CHECK_THROWS_AS(cavity::nominal_surfaces_gap(sheet, lower, away, options), Error);
}

TEST_CASE("A sheet is made on a nominal mesh of large facets, evenly and inside the seal") {
  Mesh flat;
  flat.points = {{-60, -50, 0}, {60, -50, 0}, {60, 50, 0}, {-60, 50, 0}};
  flat.triangles = {{0, 1, 2}, {0, 2, 3}};
  SheetOptions options;
  options.edge = 6;
  options.seal = {{-40, -30, 0}, {40, -30, 0}, {40, 30, 0}, {-40, 30, 0}};
  const Surface above(sampled_face(plane(20 * Z, X, Y), -60, 60, -60, 60, 5, 0, 1), {.spacing = 5, .noise = 0});
  const Sheet s = cavity::build_sheet(cavity::surface_of(flat, 1), above, options);
  double area = 0;
  for (double a : s.area) area += a;
  CHECK(area == Approx(80 * 60).epsilon(1e-3));
  CHECK(s.min_angle_deg >= 20);
  for (const Vec3& p : s.mesh.points) CHECK(std::abs(p.z()) < 1e-6);
  // Isotropic remeshing keeps edges between 4/5 and 4/3 of what is wanted (Botsch & Kobbelt 2004).
  CHECK(s.edge_p05 > 0.6 * options.edge);
  CHECK(s.edge_p95 < 1.5 * options.edge);
  CHECK(s.edge_p05 <= s.edge_p50);
  CHECK(s.edge_p50 <= s.edge_p95);
}

TEST_CASE("A probe's tip is taken off along the fitted normal, away from the cavity") {
  // A lower face of radius 80 mm felt from above with a tip of 1.5 mm: the centres lie on 81.5 mm. Upper half likewise
  // from below.
  const double tip = 1.5;
  const Surface low(sampled_face(cylinder(O, 80 + tip), -20, 20, -20, 20, 2, 0, 1), {.spacing = 2, .noise = 0}),
      up(sampled_face(cylinder(O, 90 - tip), -20, 20, -20, 20, 2, 0, 2), {.spacing = 2, .noise = 0});
  const auto lower = cavity::compensate_tip_radius(low, up, tip), upper = cavity::compensate_tip_radius(up, low, tip);
  CHECK(lower.size() > 0.9 * double(low.points().size()));
  // 2 µm is the bias that the design allows a fit.
  for (const Vec3& p : lower) CHECK(std::hypot(p.x(), p.z()) == Approx(80).margin(0.002));
  for (const Vec3& p : upper) CHECK(std::hypot(p.x(), p.z()) == Approx(90).margin(0.002));
}
