// Radii found on the sheet.
#include <catch2/catch.hpp>
#include <cmath>

#include "../cavity/sheet_shapes.hpp"
#include "../flow/sheets.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/radii.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// Two flat walls of 60 mm that meet at an angle over a rounding, 240 mm long; the cavity lies inside the angle.
Sheet angle_sheet(double radius, double turn, double edge, double shake = 0) {
  const double arc = radius * turn, total = 120 + arc;
  const auto across = [=](double s) -> Vec3 {  // in the plane x = 0
    const Vec3 end(0, 60 + radius * std::sin(turn), radius * (1 - std::cos(turn)));
    if (s < 60) return {0, s, 0};
    if (s > 60 + arc) return end + (s - 60 - arc) * Vec3(0, std::cos(turn), std::sin(turn));
    const double a = (s - 60) / radius;
    return {0, 60 + radius * std::sin(a), radius * (1 - std::cos(a))};
  };
  return cavity::make_sheet(grid(
                                int(240 / edge), int(total / edge),
                                [&](double u, double v) { return Vec3(across(v * total) + Vec3(240 * u, 0, 0)); },
                                shake)
                                .mesh);
}

}  // namespace

TEST_CASE("An inside radius is found by the turn of the sheet, of the half that it is inside of") {
  for (const double turn : {M_PI / 2, M_PI / 3})
    for (const auto& [radius, edge] : {std::pair{5., 2.}, {8., 4.}, {12., 4.}, {12., 6.}, {20., 6.}}) {
      INFO("radius " << radius << " mm, turn " << turn << ", edge " << edge << " mm");
      Sheet s = angle_sheet(radius, turn, edge, 0.15);
      const std::vector<double> gap(s.size(), 3);
      const auto found = laminate::find_radii(s, gap);
      REQUIRE(found.size() == 1);
      CHECK(found[0].lower);
      CHECK(!found[0].closed);
      CHECK(found[0].resolved);
      CHECK(found[0].turn == Approx(turn).epsilon(0.06));
      CHECK(found[0].radius == Approx(radius).epsilon(0.13));
      CHECK(std::abs(found[0].radius - radius) < 2 * found[0].u);
      CHECK(found[0].u < 0.15 * radius);
      CHECK(found[0].length == Approx(240).margin(3 * edge));
      for (Vec3& n : s.normals)
        n = -n;  // the cavity on the other side: the upper half has the radius, the gap farther out
      const auto other = laminate::find_radii(s, gap);
      REQUIRE(other.size() == 1);
      CHECK(!other[0].lower);
      CHECK(other[0].radius == Approx(found[0].radius + 3).margin(0.25 * found[0].u));
    }
  const Sheet flat = cavity::make_sheet(strip(40, 20, 200, 100).mesh);
  CHECK(laminate::find_radii(flat, std::vector<double>(flat.size(), 3)).empty());
}

TEST_CASE("A radius all around is one closed path, and what the job names is known again") {
  // A dish: level within 50 mm, a rounding of 12 mm by 70°, a wall.
  const double turn = 70 * M_PI / 180, level = 50, radius = 12;
  const auto place = [&](double s) -> std::pair<double, double> {
    if (s < level) return {s, 0};
    const double a = std::min((s - level) / radius, turn), rest = std::max(0.0, s - level - radius * turn);
    return {level + radius * std::sin(a) + rest * std::cos(turn), radius * (1 - std::cos(a)) + rest * std::sin(turn)};
  };
  const int rings = 24;
  const double total = 96;
  Mesh mesh = disc(rings, total).mesh;
  for (Vec3& p : mesh.points) {
    const double s = p.norm();
    if (!(s > 0)) continue;
    const auto [r, z] = place(s);
    p = Vec3(p.x() * r / s, p.y() * r / s, z);
  }
  const Sheet s = cavity::make_sheet(std::move(mesh));
  const auto found = laminate::find_radii(s, std::vector<double>(s.size(), 3));
  REQUIRE(found.size() == 1);
  CHECK(found[0].closed);
  CHECK(found[0].lower);
  CHECK(found[0].turn == Approx(turn).epsilon(0.06));
  CHECK(found[0].radius == Approx(radius).epsilon(0.13));
  CHECK(found[0].length == Approx(2 * M_PI * (level + radius * std::sin(turn / 2))).epsilon(0.03));
  LaminateOptions o;
  CHECK(!laminate::is_named(found[0], o));
  InsideRadius named;
  named.path = found[0].path, named.radius = 12;
  for (Vec3& p : named.path) p.x() += 2;
  o.radii = {named};
  CHECK(laminate::is_named(found[0], o));
  for (Vec3& p : o.radii[0].path) p *= 0.3;
  CHECK(!laminate::is_named(found[0], o));
}

// A sheet made of a scan is finer in the rounding than beside it.
TEST_CASE("On a sheet that was reconstructed from a coarse scan a small radius is found within its U") {
  for (const double radius : {4., 6., 8., 12.}) {
    INFO("radius " << radius << " mm");
    sheet_shapes::Profile p;
    const double turn = 85 * M_PI / 180;
    p.heading = -turn / 2, p.parts = {{32, 0}, {radius * turn, 1 / radius}, {32, 0}};
    sheet_shapes::Sampled scan;
    scan.spacing = 1.5;
    scan.patch(p.length(), 110, [&](double u, double v) {
      auto q = p.at(u);
      q.first.y() = v;
      return q;
    });
    std::vector<Vec3> above;
    for (std::size_t i = 0; i < scan.points.size(); i += 7) above.push_back(scan.points[i] + Vec3(0, 0, 40));
    SheetOptions o;
    o.edge = 9;
    const Sheet s = cavity::build_sheet(scan.surface(), Surface(above, {.spacing = 4.5, .noise = 0}), o);
    const auto found = laminate::find_radii(s, std::vector<double>(s.size(), 0));
    REQUIRE(!found.empty());
    CHECK(std::abs(found[0].radius - radius) < 2 * found[0].u);
    CHECK(found[0].u < 0.12 * radius);
  }
}
