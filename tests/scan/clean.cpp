#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <random>
#include "../random.hpp"
#include "files.hpp"
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"

using namespace gapfront;
using files::has;

namespace {

/// A cap of a sphere of radius R about the origin, seen from above: an upright raster, jittered by a tenth.
Scan cap(double radius, double half_width, double spacing, double sigma, double hole = 0) {
  Scan scan;
  support::Random draw(12345);
  const int n = int(half_width / spacing);
  for (int i = -n; i <= n; ++i)
    for (int j = -n; j <= n; ++j) {
      const double x = (i + 0.2 * (draw.uniform() - 0.5)) * spacing, y = (j + 0.2 * (draw.uniform() - 0.5)) * spacing;
      const Vec3 p(x, y, std::sqrt(radius * radius - x * x - y * y));
      if (std::hypot(x - 10, y + 5) < hole) continue;
      scan.cloud.points.push_back(p * (1 + sigma * draw.gauss() / radius));
    }
  return scan;
}

/// A panel dished by 30 mm with a vertical wall and a flat flange about it, sharp edges, two round holes.
Scan panel(double s) {
  Scan scan;
  support::Random draw(12345);
  const auto add = [&](double x, double y, double z) {
    const double j = 0.2 * s;
    scan.cloud.points.emplace_back(x + j * (draw.uniform() - 0.5), y + j * (draw.uniform() - 0.5), z);
  };
  for (double x = -150; x <= 150; x += s)
    for (double y = -100; y <= 100; y += s) {
      if (std::hypot(x - 40, y) < 8 || std::hypot(x + 130, y - 80) < 5) continue;
      const bool dish = std::abs(x) < 110 && std::abs(y) < 70;
      add(x, y, dish ? -30 - 3 * std::cos(x / 60) : 0);
    }
  // The walls reach down to the dish, or there would be real gaps at their feet.
  const auto wall = [&](double x, double y) {
    for (double z = -s; z > -30 - 3 * std::cos(x / 60); z -= s) add(x, y, z);
  };
  for (double x = -110; x <= 110; x += s) wall(x, -70), wall(x, 70);
  for (double y = -70; y <= 70; y += s) wall(-110, y), wall(110, y);
  return scan;
}

}  // namespace

TEST_CASE("The spacing of a raster is found") {
  Scan scan;
  for (int i = 0; i < 100; ++i)
    for (int j = 0; j < 100; ++j) scan.cloud.points.emplace_back(0.7 * i, 0.7 * j, 0);
  CHECK(scan::clean(scan).spacing == Approx(0.7));
}

TEST_CASE("Planted scatter of 5 to 50 micrometres on a 60 mm radius is estimated within a tenth") {
  for (double sigma : {0.005, 0.02, 0.05}) {
    Scan scan = cap(60, 40, 1.5, sigma);
    CHECK(scan::clean(scan).noise == Approx(sigma).epsilon(0.10));
  }
}

TEST_CASE("A curved surface without scatter shows less than a micrometre, also after rounding to 32 bits") {
  Scan scan = cap(60, 40, 1.5, 0);
  for (auto& p : scan.cloud.points) p = p.cast<float>().cast<double>();
  CHECK(scan::clean(scan).noise < 0.001);
}

TEST_CASE("Scatter as large as the spacing is still estimated") {
  Scan scan = cap(60, 10, 0.05, 0.05);
  CHECK(scan::clean(scan).noise == Approx(0.05).epsilon(0.15));
}

TEST_CASE("Exact duplicates go, but one of each stays") {
  Scan scan = cap(60, 30, 1.5, 0.01);
  const std::size_t n = scan.cloud.points.size();
  for (std::size_t i = 0; i < 100; ++i) scan.cloud.points.push_back(scan.cloud.points[3 * i]);
  const CleanReport r = scan::clean(scan);
  CHECK(r.duplicates == 100);
  CHECK(r.read == n + 100);
  CHECK(r.kept == scan.cloud.points.size());
  CHECK(r.read == r.kept + r.duplicates + r.clutter + r.outliers);
}

TEST_CASE("The true surface of a dished panel with sharp edges, walls and holes stays") {
  Scan scan = panel(1.5);
  const CleanReport r = scan::clean(scan);
  CHECK(r.clutter == 0);
  CHECK(double(r.outliers) < 0.001 * double(r.read));
}

TEST_CASE("Stray readings a millimetre or more off the surface are mostly found, and little else") {
  Scan scan = panel(1.5);
  const std::size_t n = scan.cloud.points.size();
  support::Random draw(12345);
  const int outliers = 200;
  for (int i = 0; i < outliers; ++i)
    scan.cloud.points.emplace_back(200 * draw.uniform() - 100, 120 * draw.uniform() - 60, -28 + 8 * draw.uniform());
  const CleanReport r = scan::clean(scan);
  std::size_t left = 0;
  for (const auto& p : scan.cloud.points)
    left += std::abs(p.x()) < 101 && std::abs(p.y()) < 61 && p.z() > -29 && p.z() < -19.9;
  // Dish surface lies between −33 and −30: outliers are at least 2 mm above it.
  CHECK(left < outliers / 10);
  CHECK(double(r.outliers + r.clutter) < outliers + 0.001 * double(n));
}

TEST_CASE("Strays of exactly one millimetre on a smooth surface are mostly found") {
  Scan scan = cap(300, 60, 1.5, 0.01);
  support::Random draw(12345);
  for (int i = 0; i < 60; ++i) {
    const double x = 100 * draw.uniform() - 50, y = 100 * draw.uniform() - 50;
    const Vec3 p(x, y, std::sqrt(9e4 - x * x - y * y));
    scan.cloud.points.push_back(p * (1 + (i % 2 ? 1.0 : -1.0) / 300));
  }
  const std::size_t n = scan.cloud.points.size();
  const CleanReport r = scan::clean(scan);
  CHECK(r.outliers >= 50);
  CHECK(r.outliers <= 60 + n / 1000);
}

TEST_CASE("Strays that fly in a swarm above a face go, and a part of a panel that is thinly scanned stays") {
  // The strays are one another's neighbours, as those of thin surface are; but they fill a space.
  for (const double side : {40.0, 100.0, 250.0}) {
    Scan scan = cap(1000, 150, 1.5, 0.02);
    const std::size_t face = scan.cloud.points.size();
    support::Random draw(12345);
    for (int i = 0; i < 300; ++i) {
      const double x = side * (draw.uniform() - 0.5), y = side * (draw.uniform() - 0.5);
      scan.cloud.points.emplace_back(x, y, std::sqrt(1e6 - x * x - y * y) + 10 + 30 * draw.uniform());
    }
    scan::clean(scan);
    std::size_t left = 0;
    for (const Vec3& p : scan.cloud.points) left += p.norm() > 1005;
    INFO("swarm over " << side << " mm");
    CHECK(left <= 15);
    CHECK(scan.cloud.points.size() - left == face);
  }
  Scan scan = panel(1.0);
  support::Random draw(12345);
  std::size_t thin = 0;  // a ninth of the points, over flange, wall and dish
  const auto there = [](const Vec3& p) { return std::hypot(p.x() - 60, p.y() - 50) < 70; };
  std::erase_if(scan.cloud.points, [&](const Vec3& p) { return there(p) && draw.uniform() > 1 / 9.0; });
  for (const Vec3& p : scan.cloud.points) thin += there(p);
  scan::clean(scan);
  std::size_t kept = 0;
  for (const Vec3& p : scan.cloud.points) kept += there(p);
  CHECK(double(kept) > 0.97 * double(thin));
}

TEST_CASE("A far lump of clutter goes; tooling balls seen from above stay") {
  Scan scan = panel(1.0);
  const std::size_t n = scan.cloud.points.size();
  std::size_t ball = 0, lump = 0;
  for (double x : {-130.0, 130.0})
    for (double u = 0; u < 80; u += 6)  // polar angle: nothing below 80 degrees from the pole
      for (double v = 0; v < 360; v += 6 / std::max(0.1, std::sin(u * M_PI / 180)), ++ball) {
        const double a = u * M_PI / 180, b = v * M_PI / 180;
        scan.cloud.points.emplace_back(x + 10 * std::sin(a) * std::cos(b), -85 + 10 * std::sin(a) * std::sin(b),
                                       14 + 10 * std::cos(a));
      }
  for (int i = 0; i < 8; ++i)
    for (int j = 0; j < 8; ++j, ++lump) scan.cloud.points.emplace_back(i, 400 + j, 20);
  const CleanReport r = scan::clean(scan);
  CHECK(r.clutter == lump);
  CHECK(double(r.outliers) < 0.001 * double(n + ball));
}

TEST_CASE("Cleaning gives the same points for one and for eight threads") {
  Scan one = cap(60, 40, 1.5, 0.02), eight = one;
  const char* old = std::getenv("GAPFRONT_THREADS");
  const std::string keep = old ? old : "";
  setenv("GAPFRONT_THREADS", "1", 1);
  const CleanReport a = scan::clean(one);
  setenv("GAPFRONT_THREADS", "8", 1);
  const CleanReport b = scan::clean(eight);
  old ? setenv("GAPFRONT_THREADS", keep.c_str(), 1) : unsetenv("GAPFRONT_THREADS");
  CHECK(one.cloud.points == eight.cloud.points);
  CHECK(a.noise == b.noise);
  CHECK(a.spacing == b.spacing);
}

TEST_CASE("A round hole of 15 mm in a curved panel is found within a fifth of its area") {
  for (double spacing : {0.7, 1.5}) {
    Scan scan = cap(120, 50, spacing, 0.01, 7.5);
    const ScanFacts f = scan::look(scan, scan::clean(scan));
    REQUIRE(f.holes.size() == 1);
    CHECK(f.holes[0].area == Approx(M_PI * 7.5 * 7.5).epsilon(0.2));
    CHECK((f.holes[0].centre - Vec3(10, -5, std::sqrt(120. * 120 - 125))).norm() < 2 * spacing);
  }
}

TEST_CASE("A full panel has no holes") {
  Scan scan = cap(120, 50, 1.5, 0.02);
  CHECK(scan::look(scan, scan::clean(scan)).holes.empty());
}

TEST_CASE("The two holes of a dished panel are found, and its dish is not taken for one") {
  Scan scan = panel(1.0);
  const ScanFacts f = scan::look(scan, scan::clean(scan));
  for (const auto& h : f.holes) UNSCOPED_INFO(h.centre.transpose() << "  area " << h.area);
  REQUIRE(f.holes.size() == 2);
  CHECK(f.holes[0].area == Approx(M_PI * 64).epsilon(0.2));
  CHECK(f.holes[1].area == Approx(M_PI * 25).epsilon(0.2));
}

TEST_CASE("The likely unit is told from size and spacing") {
  const auto unit = [](double scale) {
    Scan scan = panel(2.0);
    for (auto& p : scan.cloud.points) p *= scale;
    return scan::look(scan, scan::clean(scan)).likely_unit;
  };
  CHECK(unit(1) == "mm");
  CHECK(unit(1 / 25.4) == "in");
  CHECK(unit(1e-3) == "m");
}

namespace {
std::string refusal(const Scan& a, const Scan& b) {
  try {
    scan::check_pair(a, b);
  } catch (const Error& e) {
    return e.what();
  }
  return "";
}
}  // namespace

TEST_CASE("Halves whose sizes differ by a unit's factor are refused with the unit to set") {
  Scan a = panel(3), b = panel(3.1);
  a.path = "low.ply";
  b.path = "up.ply";
  CHECK(refusal(a, b).empty());
  for (auto& p : b.cloud.points) p /= 25.4;
  CHECK(has(refusal(a, b), "up.ply seems to be in inches"));
  CHECK(has(refusal(a, b), "unit = \"in\"` in [upper]"));
  CHECK(has(refusal(b, a), "unit = \"in\"` in [lower]"));
  a.unit_declared = b.unit_declared = true;
  CHECK(has(refusal(a, b), "one of the declared units is wrong"));
  for (auto& p : b.cloud.points) p *= 25.4 / 1000;
  CHECK(has(refusal(a, b), "metres"));
}

TEST_CASE("The same scan given twice is refused, in any order of its points") {
  const Scan a = panel(3);
  Scan b = a;
  CHECK(has(refusal(a, b), "the same scan is given for both halves"));
  std::reverse(b.cloud.points.begin(), b.cloud.points.end());
  CHECK(has(refusal(a, b), "the same scan is given for both halves"));
}

TEST_CASE("Points on a line are no mold half") {
  Scan line;
  support::Random draw(12345);
  for (int i = 0; i < 1000; ++i)
    line.cloud.points.push_back(i * Vec3(0.3, 0.2, 0.1) + 0.01 * Vec3(draw.gauss(), draw.gauss(), draw.gauss()));
  CHECK(has(refusal(line, panel(3)), "all points lie on a line"));
  CHECK(has(refusal(panel(3), line), "all points lie on a line"));
}

TEST_CASE("Thirty-two readings of every place count as duplicates, and the spacing is that of the places") {
  Scan once = cap(500, 30, 1, 0.01), often;
  for (int k = 0; k < 32; ++k)
    often.cloud.points.insert(often.cloud.points.end(), once.cloud.points.begin(), once.cloud.points.end());
  const auto report = scan::clean(often), single = scan::clean(once);
  CHECK(report.duplicates == 31 * single.read);
  CHECK(report.spacing == Approx(single.spacing).epsilon(0.01));  // the sample falls on other points
  CHECK(often.cloud.points.size() == once.cloud.points.size());
}

TEST_CASE("Clusters of near-duplicates are named, not taken for outliers") {
  Scan scan = cap(500, 30, 1, 0), crowded;
  support::Random draw(12345);
  for (const Vec3& p : scan.cloud.points)
    for (int k = 0; k < 8; ++k)
      crowded.cloud.points.push_back(p + 1e-3 * Vec3(draw.gauss(), draw.gauss(), draw.gauss()));
  crowded.path = "often.xyz";
  CHECK_THROWS_WITH(scan::clean(crowded), Catch::StartsWith("often.xyz: the points stand in close clusters"));
}

TEST_CASE("The spacing is that of the area: of points at random, in merged passes, beside a thin part, among strays") {
  // 60 × 40 mm with one point per mm².
  const auto drawn = [](support::Random& draw, Scan& scan, double from, double to, int count) {
    for (int i = 0; i < count; ++i)
      scan.cloud.points.emplace_back(from + (to - from) * draw.uniform(), 40 * draw.uniform(), 0.01 * draw.gauss());
  };
  support::Random draw(12345);
  Scan random;
  drawn(draw, random, 0, 60, 2400);
  CHECK(scan::clean(random).spacing == Approx(1).epsilon(0.06));

  Scan passes;  // a third of it five times
  drawn(draw, passes, 0, 60, 2400), drawn(draw, passes, 20, 40, 4 * 800);
  // The median of all places is the quarter quantile of those outside, and eight points scatter by 18 %.
  CHECK(scan::clean(passes).spacing == Approx(1).epsilon(0.15));

  Scan thin;  // half of it with one point per 9 mm²: its pitch is 3
  drawn(draw, thin, 0, 60, 2400 / 9), drawn(draw, thin, 0, 30, 1067);
  CHECK(scan::clean(thin).spacing == Approx(0.7 * 3).epsilon(0.15));

  Scan strays;
  drawn(draw, strays, 0, 60, 2400);
  for (int i = 0; i < 240; ++i)
    strays.cloud.points.emplace_back(60 * draw.uniform(), 40 * draw.uniform(), 30 * draw.uniform());
  CHECK(scan::clean(strays).spacing == Approx(1).epsilon(0.1));
}

TEST_CASE("Whatever the order of the points in the file, the cleaned cloud is the same") {
  Scan first = cap(500, 40, 1, 0.02);
  for (const Vec3& p : first.cloud.points) first.cloud.normals.push_back(p.normalized().cast<float>());
  first.cloud.points.push_back(first.cloud.points[7]), first.cloud.normals.emplace_back(0.f, 0.f, 1.f);
  first.cloud.points.emplace_back(5, 5, 520), first.cloud.normals.emplace_back(0.f, 0.f, 1.f);
  const Scan file = first;
  const auto expected = scan::clean(first);
  for (const unsigned seed : {1u, 2u, 3u}) {
    Scan other;
    std::vector<std::size_t> order(file.cloud.points.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::shuffle(order.begin(), order.end(), std::mt19937(seed));
    for (auto i : order) {
      other.cloud.points.push_back(file.cloud.points[i]);
      other.cloud.normals.push_back(file.cloud.normals[i]);
    }
    const auto report = scan::clean(other);
    CHECK(report.outliers == expected.outliers);
    CHECK(report.noise == expected.noise);
    CHECK(other.cloud.points == first.cloud.points);
    CHECK(other.cloud.normals == first.cloud.normals);
  }
}
