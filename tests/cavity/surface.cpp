#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include "gap_cases.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {
std::vector<Vec3> cloud() { return scan(sphere(Vec3(1, 2, 3), 20), -15, 15, -15, 15, 1, 0.1, 3); }
}  // namespace

TEST_CASE("Points within a radius are those that a plain search finds, nearest first") {
  const auto points = cloud();
  const Surface surface(points, 1, 0.1);
  const Vec3 p(2, 3, 22.5);
  std::vector<std::pair<double, int>> plain;
  for (std::size_t i = 0; i < points.size(); ++i)
    if ((points[i] - p).norm() < 4) plain.emplace_back((points[i] - p).squaredNorm(), int(i));
  std::sort(plain.begin(), plain.end());
  const auto found = surface.within(p, 4);
  REQUIRE(found.size() == plain.size());
  for (std::size_t k = 0; k < plain.size(); ++k) CHECK(found[k] == plain[k].second);
}

TEST_CASE("Offsets within a radius are those of the points that a plain search finds, to single precision") {
  const auto points = cloud();
  const Surface surface(points, 1, 0.1);
  const Vec3 p(2, 3, 22.5);
  std::array<std::vector<float>, 3> xyz;
  const std::size_t count = surface.offsets_within(p, 4, xyz);
  std::vector<std::array<float, 3>> found, plain;
  for (std::size_t i = 0; i < count; ++i) found.push_back({xyz[0][i], xyz[1][i], xyz[2][i]});
  for (const Vec3& q : points)
    if (const Vec3 d = q - p; d.norm() < 4) plain.push_back({float(d.x()), float(d.y()), float(d.z())});
  std::sort(found.begin(), found.end());
  std::sort(plain.begin(), plain.end());
  CHECK(found == plain);
}

TEST_CASE("The nearest point is the one that a plain search finds") {
  const auto points = cloud();
  const Surface surface(points, 1, 0.1);
  for (const Vec3& p : {Vec3(0, 0, 0), Vec3(5, -3, 30), Vec3(100, 0, 0)}) {
    double best = 1e300;
    for (const Vec3& q : points) best = std::min(best, (q - p).norm());
    CHECK(surface.nearest(p).second == Approx(best).margin(1e-12));
  }
}

TEST_CASE("A surface of no points, of no spacing or with a point that is not finite is refused") {
  CHECK_THROWS_AS(Surface({}, 1, 0), Error);
  CHECK_THROWS_AS(Surface({Vec3::Zero()}, 0, 0), Error);
  CHECK_THROWS_AS(Surface({Vec3(0, 0, std::nan(""))}, 1, 0), Error);
}
