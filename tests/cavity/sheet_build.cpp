// build_sheet on closed-form faces. Areas and distances are derived per case; tolerances are those of the design
// and of the task (area 0.1 % on flats, 0.5 % on curves; node distance below the noise).
#include <catch2/catch.hpp>
#include <cstdlib>
#include "gapfront/error.hpp"
#include "sheet_shapes.hpp"

using namespace gapfront;
using namespace sheet_shapes;

namespace {

Surface above(const Sampled& s, double height = 40) {
  std::vector<Vec3> points;
  for (std::size_t i = 0; i < s.points.size(); i += 7) points.push_back(s.points[i] + Vec3(0, 0, height));
  return Surface(std::move(points), {.spacing = 3 * s.spacing, .noise = 0});
}

Sheet built(const Sampled& s, const SheetOptions& o) { return cavity::build_sheet(s.surface(), above(s), o); }

Sampled plate() {
  Sampled s;
  s.patch(140, 120, [](double u, double v) { return std::pair<Vec3, Vec3>{{u - 20, v - 20, 0}, {0, 0, 1}}; });
  return s;
}

Sampled swept(const Profile& p, double width, double spacing = 1) {
  Sampled s;
  s.spacing = spacing;
  s.patch(p.length(), width, [&](double u, double v) {
    auto q = p.at(u);
    q.first.y() = v;
    return q;
  });
  return s;
}

SheetOptions options(double edge, std::vector<Vec3> seal = {}, double min_edge = 1.5) {
  SheetOptions o;
  o.edge = edge, o.min_edge = min_edge, o.seal = std::move(seal);
  return o;
}

double rms_distance(const Sheet& s, const Profile& p) {
  double sum = 0;
  for (const Vec3& x : s.mesh.points) sum += std::pow(p.distance(x), 2);
  return std::sqrt(sum / double(s.size()));
}

/// Every triangle faces the way its nodes' normals do: no folds.
bool no_folds(const Sheet& s) {
  for (const auto& t : s.mesh.triangles) {
    const Vec3 &a = s.mesh.points[t[0]], &b = s.mesh.points[t[1]], &c = s.mesh.points[t[2]];
    const Vec3 n = (b - a).cross(c - a).normalized();
    for (int v : t)
      if (n.dot(s.normals[v]) < 0.3) return false;
  }
  return true;
}

}  // namespace

TEST_CASE("A flat plate is cut exactly at the seal line and meshed evenly") {
  const auto seal = rectangle(0, 0, 100, 80);
  const Sheet s = built(plate(), options(4, seal));
  CHECK(total_area(s) == Approx(100.0 * 80).epsilon(1e-3));
  CHECK(euler(s.mesh) == 1);  // a disc
  CHECK(s.min_angle_deg >= 30);
  CHECK(s.uncovered_area == 0);
  double off = 0;
  int corners = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    const Vec3& p = s.mesh.points[i];
    CHECK(s.normals[i].z() > 0.99);  // towards the upper half
    const double d = std::min({std::abs(p.x()), std::abs(p.x() - 100), std::abs(p.y()), std::abs(p.y() - 80)});
    if (s.rim[i])
      off = std::max(off, d);
    else
      CHECK(d > 0.1);
    for (const Vec3& c : seal) corners += (p - c).head<2>().norm() < 1e-9;
  }
  CHECK(off < 1e-9);
  CHECK(corners == 4);
  // About 8000 mm² / (√3/4 · 16 mm²) = 1155 triangles of 4 mm edge.
  CHECK(s.mesh.triangles.size() > 800);
  CHECK(s.mesh.triangles.size() < 1600);
}

TEST_CASE("The sheet goes on across a hole of 20 mm, with nodes that are not covered, and its area is reported") {
  Sampled scan = plate();
  std::erase_if(scan.points, [](const Vec3& p) { return (p - Vec3(50, 40, 0)).norm() < 10; });
  const Sheet s = built(scan, options(4, rectangle(0, 0, 100, 80)));
  CHECK(euler(s.mesh) == 1);  // a disc
  CHECK(total_area(s) == Approx(100.0 * 80).epsilon(2e-3));
  CHECK(s.uncovered_area == Approx(100 * pi).epsilon(0.1));
  CHECK(s.lost.empty());
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double r = (s.mesh.points[i] - Vec3(50, 40, 0)).head<2>().norm();
    if (r < 9) CHECK_FALSE(s.covered[i]);
    if (r > 11) CHECK(s.covered[i]);
    if (s.rim[i]) CHECK(r > 30);
  }
}

TEST_CASE("A hole smaller than an edge length is bridged") {
  Sampled scan = plate();
  std::erase_if(scan.points, [](const Vec3& p) { return (p - Vec3(50, 40, 0)).norm() < 2; });
  const Sheet s = built(scan, options(8, rectangle(0, 0, 100, 80)));
  CHECK(euler(s.mesh) == 1);
  CHECK(total_area(s) == Approx(8000).epsilon(1e-3));
}

TEST_CASE("A bite out of the scan at the seal line is filled up to the line and reported as uncovered") {
  Sampled scan = plate();
  std::erase_if(scan.points, [](const Vec3& p) { return p.x() > 80 && p.y() > 30 && p.y() < 60; });
  const Sheet s = built(scan, options(4, rectangle(0, 0, 100, 80)));
  CHECK(euler(s.mesh) == 1);
  CHECK(total_area(s) == Approx(100.0 * 80).epsilon(2e-3));
  CHECK(s.uncovered_area == Approx(20.0 * 30).epsilon(0.1));
}

TEST_CASE("An island's outline is a wall of the sheet, exactly on its corners, and nothing inside it is a node") {
  SheetOptions o = options(4, rectangle(0, 0, 100, 80));
  o.islands = {rectangle(40, 30, 60, 50)};
  const Sheet s = built(plate(), o);
  CHECK(euler(s.mesh) == 0);  // a disc with one hole
  CHECK(total_area(s) == Approx(100.0 * 80 - 20 * 20).epsilon(1e-3));
  CHECK(s.uncovered_area == 0);
  int corners = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    const Vec3& p = s.mesh.points[i];
    CHECK_FALSE((p.x() > 40.01 && p.x() < 59.99 && p.y() > 30.01 && p.y() < 49.99));
    for (const Vec3& c : o.islands[0]) corners += (p - c).head<2>().norm() < 1e-9;
    if (s.rim[i]) CHECK(std::min({p.x(), 100 - p.x(), p.y(), 80 - p.y()}) < 0.1);
  }
  CHECK(corners == 4);
}

TEST_CASE("Masks leave out what lies within their spheres, are counted, and are no rim, even across the seal line") {
  SheetOptions o = options(4, rectangle(0, 0, 100, 80));
  // One 10 mm above the face: a disc of √(15² − 10²) = 11.2 mm; one on the seal line, half of it inside.
  o.masks = {{"B1", Vec3(50, 40, 10), 15}, {"B2", Vec3(0, 40, 0), 12}};
  const Sheet s = built(plate(), o);
  const double left_out = pi * (15 * 15 - 10 * 10) + pi * 12 * 12 / 2;
  CHECK(s.masked_area == Approx(left_out).epsilon(0.02));
  CHECK(total_area(s) == Approx(100.0 * 80 - left_out).epsilon(5e-3));
  CHECK(s.uncovered_area == 0);
  for (std::size_t i = 0; i < s.size(); ++i) {
    const Vec3& p = s.mesh.points[i];
    for (const Mask& m : o.masks) CHECK((p - m.centre).norm() > m.radius - 0.5);
    if (s.rim[i]) CHECK(std::min({p.x(), 100 - p.x(), p.y(), 80 - p.y()}) < 0.1);
  }
}

TEST_CASE("A piece beside a strip that the scan lacks belongs to the sheet") {
  Sampled scan = plate();
  std::erase_if(scan.points, [](const Vec3& p) { return std::abs(p.x() - 80) < 8; });
  const Sheet s = built(scan, options(4, rectangle(0, 0, 100, 80)));
  CHECK(euler(s.mesh) == 1);
  CHECK(total_area(s) == Approx(100.0 * 80).epsilon(2e-3));
  CHECK(s.uncovered_area == Approx(16.0 * 80).epsilon(0.1));
}

TEST_CASE("Clutter that does not face the upper half is no lost piece") {
  Sampled scan = plate();
  for (int i = 0; i < 30; ++i)  // the back of the half, 120 mm below
    for (int j = 0; j < 30; ++j) scan.points.push_back({30.0 + i, 20.0 + j, -120});
  const Sheet s = cavity::build_sheet(scan.surface(), above(plate()), options(4, rectangle(0, 0, 100, 80)));
  CHECK(s.uncovered_area == 0);
  CHECK(total_area(s) == Approx(100.0 * 80).epsilon(1e-3));
}

TEST_CASE("A trough whose sides end vertical is no height field") {
  // Two vertical walls of 10 mm and a half cylinder of radius 50 mm: area = width · (20 + 50 π).
  const Profile p{{-50, 0, 30}, -pi / 2, {{10, 0}, {50 * pi, 1 / 50.0}, {10, 0}}};
  const Sheet s = built(swept(p, 100), options(6));
  CHECK(total_area(s) == Approx(100 * (20 + 50 * pi)).epsilon(5e-3));
  CHECK(euler(s.mesh) == 1);
  CHECK(rms_distance(s, p) < 0.02);
  CHECK(s.min_angle_deg >= 20);
  CHECK(no_folds(s));
}

TEST_CASE("Both walls of a rib 3 mm wide are kept") {
  // Foot radii of 3 mm, walls of 10 mm, a round top of 1.5 mm radius; scanned every 0.5 mm.
  const Profile p{
      {-40, 0, 0},
      0,
      {{35.5, 0}, {1.5 * pi, 1 / 3.0}, {10, 0}, {1.5 * pi, -1 / 1.5}, {10, 0}, {1.5 * pi, 1 / 3.0}, {35.5, 0}}};
  const Sheet s = built(swept(p, 60, 0.5), options(5, rectangle(-30, 10, 30, 50), 1));
  CHECK(total_area(s) == Approx(40 * (p.length() - 20)).epsilon(5e-3));
  CHECK(euler(s.mesh) == 1);
  CHECK(rms_distance(s, p) < 0.02);
  CHECK(s.min_angle_deg >= 20);
  CHECK(no_folds(s));
  bool left = false, right = false;
  for (std::size_t i = 0; i < s.size(); ++i)
    if (std::abs(s.mesh.points[i].z() - 8) < 3) {
      left |= s.normals[i].x() < -0.9;
      right |= s.normals[i].x() > 0.9;
    }
  CHECK(left);
  CHECK(right);
}

TEST_CASE("A dish of near-vertical walls with a hemispherical end keeps its area") {
  // Hemisphere of radius 40 mm below a cylinder of 25 mm: area = 2 π R² + 2 π R h, all inside the open rim.
  Sampled scan;
  const double R = 40, h = 25;
  scan.patch(2 * pi * R, h, [&](double u, double v) {
    const Vec3 out(std::cos(u / R), std::sin(u / R), 0);
    return std::pair<Vec3, Vec3>{R * out + Vec3(0, 0, v), -out};
  });
  // Equal areas by equal steps of height (Archimedes): rings of the same width in z hold the same area.
  const int rings = int(2 * pi * R * R);
  for (int i = 0; i < rings; ++i) {  // Fibonacci lattice, about one point per mm²
    const double z = -(i + 0.5) / rings, a = i * pi * (3 - std::sqrt(5.0)), c = std::sqrt(1 - z * z);
    const Vec3 out(c * std::cos(a), c * std::sin(a), z);
    scan.points.push_back((R - scan.noise * scan.dice.gauss()) * out);
  }
  const Sheet s = cavity::build_sheet(
      scan.surface(), Surface({{0, 0, 0}, {0, 0, -30}, {0, 0, 20}, {0, 0, 10}}, {.spacing = 10, .noise = 0}),
      options(6));
  CHECK(euler(s.mesh) == 1);
  CHECK(total_area(s) == Approx(2 * pi * R * (R + h)).epsilon(5e-3));
  CHECK(s.min_angle_deg >= 20);
  for (std::size_t i = 0; i < s.size(); ++i) {
    const Vec3 in = -Vec3(s.mesh.points[i].x(), s.mesh.points[i].y(), std::min(0.0, s.mesh.points[i].z()));
    CHECK(s.normals[i].dot(in.normalized()) > 0.9);
  }
}

TEST_CASE("Edges shorten to a third of a 6 mm radius and stay long on the flats") {
  const Profile p{{-60, 0, 0}, 0, {{54, 0}, {3 * pi, 1 / 6.0}, {40, 0}}};
  const Sheet s = built(swept(p, 60, 0.5), options(8));
  double bend = 0, flat = 0;
  int nb = 0, nf = 0;
  for (const auto& t : s.mesh.triangles)
    for (int k = 0; k < 3; ++k) {
      const Vec3 &a = s.mesh.points[t[k]], &b = s.mesh.points[t[(k + 1) % 3]];
      const Vec3 m = 0.5 * (a + b);
      if (m.x() > -5 && m.z() < 5) bend += (a - b).norm(), ++nb;
      if (m.x() < -25) flat += (a - b).norm(), ++nf;
    }
  REQUIRE(nb > 0);
  CHECK(bend / nb < 2.3);  // 2 mm wanted; the mean of a remeshed patch lies within 15 % of it
  CHECK(flat / nf > 5);
  CHECK(rms_distance(s, p) < 0.02);
  CHECK(s.min_angle_deg >= 20);
}

TEST_CASE("Points that lie three times as far apart up a steep wall as along it give the sheet of an even scan") {
  // A round dish with a wall of 70° between radii of 10 mm, scanned evenly, and by a grid seen from straight above.
  const double steep = 70 * pi / 180, bend = 10 * steep;
  const Profile p{Vec3(0, 0, 0), 0, {{30, 0}, {bend, 0.1}, {30, 0}, {bend, -0.1}, {30, 0}}};
  Sampled even, above_only;
  support::Random dice{11};
  for (double l = 0.5; l < p.length(); l += 1) {
    const auto [x, n] = p.at(l);
    const int around = int(2 * pi * x.x()) + 1;
    for (int k = 0; k < around; ++k) {
      const double f = 2 * pi * (k + 0.6 * dice.uniform()) / around, r = x.x() + even.noise * dice.gauss() * n.x();
      even.points.emplace_back(r * std::cos(f), r * std::sin(f), x.z() + even.noise * dice.gauss() * n.z());
    }
  }
  std::vector<double> radius, height;
  for (double l = 0; l <= p.length(); l += 0.02) {
    const Vec3 x = p.at(l).first;
    radius.push_back(x.x()), height.push_back(x.z());
  }
  for (double x = -80; x <= 80; x += 0.95)
    for (double y = -80; y <= 80; y += 0.95) {
      const auto at = std::lower_bound(radius.begin(), radius.end(), std::hypot(x, y));
      if (at == radius.end()) continue;
      const double z = height[std::size_t(at - radius.begin())];
      above_only.points.emplace_back(x, y, z + above_only.noise * dice.gauss());
    }
  const SheetOptions o = options(6, rectangle(-50, -50, 50, 50));
  const Sheet a = built(even, o), b = built(above_only, o);
  INFO(a.size() << " nodes on the even scan, " << b.size() << " on the other");
  // Over eight seeds 3 to 7 % fewer nodes; 25 % more where the bend is guessed from one row of neighbours.
  CHECK(std::abs(double(b.size()) / double(a.size()) - 1) < 0.1);
  CHECK(no_folds(b));
}

TEST_CASE("The sheet does not depend on the number of threads") {
  const Profile p{{-60, 0, 0}, 0, {{54, 0}, {3 * pi, 1 / 6.0}, {40, 0}}};
  const Sampled scan = swept(p, 40, 1.5);
  setenv("GAPFRONT_THREADS", "1", 1);
  const Sheet one = built(scan, options(8));
  setenv("GAPFRONT_THREADS", "4", 1);
  const Sheet four = built(scan, options(8));
  unsetenv("GAPFRONT_THREADS");
  REQUIRE(one.mesh.triangles == four.mesh.triangles);
  for (std::size_t i = 0; i < one.size(); ++i) CHECK(one.mesh.points[i] == four.mesh.points[i]);
}

TEST_CASE("A seal line away from the scan is refused with a remedy") {
  const auto fault = [](const std::vector<Vec3>& seal) {
    try {
      built(plate(), options(4, seal));
    } catch (const Error& e) {
      CHECK(e.fault == Fault::measurement);
      return std::string(e.what());
    }
    return std::string();
  };
  CHECK(fault(rectangle(500, 500, 600, 600)).find("check cavity.seal") != std::string::npos);
  CHECK(fault(rectangle(-400, -400, 600, 600)).find("check cavity.seal") != std::string::npos);
}

TEST_CASE("A seal line that encloses nothing is refused as one without a surface inside") {
  SheetOptions o;
  o.seal = {{0, 0, 0}, {40, 0, 0}, {80, 0, 0}};
  CHECK_THROWS_WITH(built(plate(), o), Catch::Contains("no surface inside the seal line"));
}

TEST_CASE("A face scanned much more thinly than its flange is named with place, density found and density needed") {
  Sampled scan;
  scan.spacing = 0.25;
  scan.patch(140, 120, [](double u, double v) { return std::pair<Vec3, Vec3>{{u - 20, v - 20, 0}, {0, 0, 1}}; });
  std::erase_if(scan.points, [](const Vec3& p) { return p.x() > 0 && p.x() < 100 && p.y() > 0 && p.y() < 80; });
  for (int i = 1; i < 50; ++i)  // 2 mm apart
    for (int j = 1; j < 40; ++j) scan.points.push_back({2.0 * i, 2.0 * j, 0});
  CHECK_THROWS_WITH(built(scan, options(4, rectangle(0, 0, 100, 80))),
                    Catch::StartsWith("sheet: the lower scan is uneven: about x ") && Catch::Contains("per 2 mm") &&
                        Catch::Contains("ask for one per"));
}
