#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include "cavity/surface_reader.hpp"
#include "gap_cases.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {
std::vector<Vec3> cloud() { return sampled_face(sphere(Vec3(1, 2, 3), 20), -15, 15, -15, 15, 1, 0.1, 3); }
}  // namespace

TEST_CASE("Points within a radius are those that a plain search finds, nearest first") {
  const auto points = cloud();
  const Surface surface(points, {.spacing = 1, .noise = 0.1});
  const Vec3 p(2, 3, 22.5);
  std::vector<std::pair<double, int>> plain;
  for (std::size_t i = 0; i < points.size(); ++i)
    if ((points[i] - p).norm() < 4) plain.emplace_back((points[i] - p).squaredNorm(), int(i));
  std::sort(plain.begin(), plain.end());
  const auto found = surface.within(p, 4);
  REQUIRE(found.size() == plain.size());
  for (std::size_t k = 0; k < plain.size(); ++k) CHECK(found[k] == plain[k].second);
}

TEST_CASE("Offsets within a radius are those of the points that a plain search finds, to a nanometre") {
  const auto points = cloud();
  const Surface surface(points, {.spacing = 1, .noise = 0.1});
  const Vec3 p(2, 3, 22.5);
  std::array<std::vector<float>, 3> xyz;
  const std::size_t count = SurfaceReader::offsets_within(surface, p, 4, xyz);
  std::vector<std::array<float, 3>> found, plain;
  for (std::size_t i = 0; i < count; ++i) found.push_back({xyz[0][i], xyz[1][i], xyz[2][i]});
  for (const Vec3& q : points)
    if (const Vec3 d = q - p; d.norm() < 4) plain.push_back({float(d.x()), float(d.y()), float(d.z())});
  std::sort(found.begin(), found.end());
  std::sort(plain.begin(), plain.end());
  REQUIRE(found.size() == plain.size());
  double most = 0;
  for (std::size_t i = 0; i < found.size(); ++i)
    for (int k = 0; k < 3; ++k) most = std::max(most, std::abs(double(found[i][k]) - plain[i][k]));
  // A leaf of 24 points at 1 mm is some 5 mm wide: rounding to 2⁻²⁴ of that, twice, and of the offsets of up to 4 mm.
  CHECK(most < 1e-6);
}

TEST_CASE("Any number of points, coincident ones and ones far from the origin are found as a plain search finds them") {
  std::mt19937 dice(7);
  std::uniform_real_distribution<double> side(-6, 6);
  // One point; whole and broken blocks and leaves; levels that do not split evenly.
  for (const std::size_t count : {1, 3, 4, 5, 24, 25, 49, 97, 800})
    for (const double far : {0.0, 3e4}) {
      const Vec3 shift(far, -far, 0.1 * far);
      std::vector<Vec3> points(count);
      for (Vec3& p : points) p = shift + Vec3(side(dice), side(dice), 0.2 * side(dice));
      for (std::size_t i = 0; i + 1 < count; i += 3) points[i + 1] = points[i];
      const Surface surface(points, {.spacing = 1, .noise = 0});
      for (int k = 0; k < 20; ++k) {
        const Vec3 p = shift + 1.2 * Vec3(side(dice), side(dice), side(dice));
        double best = 1e300;
        std::vector<int> plain;
        for (std::size_t i = 0; i < count; ++i) {
          best = std::min(best, (points[i] - p).norm());
          if ((points[i] - p).norm() < 3) plain.push_back(int(i));
        }
        std::vector<int> found;
        surface.within(p, 3, found);
        std::sort(found.begin(), found.end());
        CHECK(found == plain);
        std::array<std::vector<float>, 3> xyz;
        CHECK(SurfaceReader::offsets_within(surface, p, 3, xyz) == plain.size());
        const Surface::Found near = surface.nearest(p);
        CHECK(near.distance == Approx(best).margin(1e-12));
        CHECK(near.point == points[std::size_t(near.index)]);
        CHECK(surface.nearest(p, 0.99 * best).index == -1);
      }
    }
}

TEST_CASE("The nearest point is the one that a plain search finds") {
  const auto points = cloud();
  const Surface surface(points, {.spacing = 1, .noise = 0.1});
  for (const Vec3& p : {Vec3(0, 0, 0), Vec3(5, -3, 30), Vec3(100, 0, 0)}) {
    double best = 1e300;
    for (const Vec3& q : points) best = std::min(best, (q - p).norm());
    CHECK(surface.nearest(p).distance == Approx(best).margin(1e-12));
  }
}

TEST_CASE("A surface of no points, of no spacing or with a point that is not finite is refused") {
  CHECK_THROWS_AS(Surface({}, {.spacing = 1, .noise = 0}), Error);
  CHECK_THROWS_AS(Surface({Vec3::Zero()}, {.spacing = 0, .noise = 0}), Error);
  CHECK_THROWS_AS(Surface({Vec3(0, 0, std::nan(""))}, {.spacing = 1, .noise = 0}), Error);
}
