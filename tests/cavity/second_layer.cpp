// find_second_layer on plates, shells and ribs whose points are drawn with scatter: what is there is known by
// construction.
#include <catch2/catch.hpp>
#include <random>

#include "gapfront/cavity.hpp"

using namespace gapfront;

namespace {

constexpr LayerRange kRange{.least = 0.125, .most = 9};

/// Points of a rectangle from `corner` along `a` and `b`, one per mm² at random, with 0.02 mm of noise across it.
void add_face(std::vector<Vec3>& points, const Vec3& corner, const Vec3& a, const Vec3& b, double density = 1,
              unsigned seed = 1) {
  std::mt19937 draw(seed);
  std::uniform_real_distribution<double> even;
  std::normal_distribution<double> noise(0, 0.02);
  const Vec3 n = a.cross(b).normalized();
  const int count = int(density * a.norm() * b.norm());
  for (int i = 0; i < count; ++i) {
    const double u = even(draw), v = even(draw);
    points.push_back(corner + u * a + v * b + noise(draw) * n);
  }
}

std::vector<Vec3> plate_at(double z, double density = 1, unsigned seed = 1, double length = 80) {
  std::vector<Vec3> points;
  add_face(points, {0, 0, z}, {length, 0, 0}, {0, 60, 0}, density, seed);
  return points;
}

Surface scan_of(std::vector<Vec3> points) { return Surface(std::move(points), {.spacing = 0.5, .noise = 0.02}); }

Surface both(std::vector<Vec3> face, const std::vector<Vec3>& second) {
  face.insert(face.end(), second.begin(), second.end());
  return scan_of(std::move(face));
}

/// A flat grid of nodes at a height, facing up.
Sheet flat_sheet(double z = 0) {
  Mesh m;
  for (int y = 0; y <= 11; ++y)
    for (int x = 0; x <= 15; ++x) m.points.push_back(Vec3(2.5 + 5 * x, 2.5 + 5 * y, z));
  for (int y = 0; y < 11; ++y)
    for (int x = 0; x < 15; ++x) {
      const int a = 16 * y + x;
      m.triangles.push_back({a, a + 1, a + 17});
      m.triangles.push_back({a, a + 17, a + 16});
    }
  return cavity::make_sheet(m);
}

}  // namespace

TEST_CASE("Two plates are one surface each") {
  const SecondLayer l = cavity::find_second_layer(flat_sheet(), scan_of(plate_at(0)), scan_of(plate_at(3)), kRange);
  CHECK(l.fraction == 0);
}

TEST_CASE("A ghost is found on either half, behind its face and in front of it, with its distance") {
  const bool upper = GENERATE(true, false);
  const double off = GENERATE(2.0, -2.0, 0.5);
  const auto second = plate_at((upper ? 3 : 0) + off, 1, 7);
  const Surface low = upper ? scan_of(plate_at(0)) : both(plate_at(0), second),
                high = upper ? both(plate_at(3), second) : scan_of(plate_at(3));
  const SecondLayer l = cavity::find_second_layer(flat_sheet(), low, high, kRange);
  CHECK(l.half == (upper ? SecondLayer::Half::upper : SecondLayer::Half::lower));
  CHECK(l.fraction > 0.6);
  CHECK(l.distance == Approx(std::abs(off)).margin(0.02));
  const SecondLayer unmeshed = cavity::find_second_layer(low, high, kRange);
  CHECK(unmeshed.half == l.half);
  CHECK(unmeshed.fraction > 0.4);
}

TEST_CASE("A ghost of a fifth of the face is found where it is") {
  const SecondLayer l =
      cavity::find_second_layer(flat_sheet(), scan_of(plate_at(0)), both(plate_at(3), plate_at(4.5, 1, 5, 16)), kRange);
  CHECK(l.fraction == Approx(0.2).margin(0.08));
  CHECK(l.at.x() < 16);
}

TEST_CASE("A ghost of half the density is found, a few strays behind the face are none") {
  const auto seen = [&](double density) {
    return cavity::find_second_layer(flat_sheet(), scan_of(plate_at(0)), both(plate_at(3), plate_at(5, density, 3)),
                                     kRange)
        .fraction;
  };
  CHECK(seen(0.5) > 0.5);
  CHECK(seen(0.02) == 0);
}

TEST_CASE("The back of a thin half is a second surface; a wall beyond three gaps is none") {
  const auto seen = [&](double behind) {
    return cavity::find_second_layer(flat_sheet(), scan_of(plate_at(0)), both(plate_at(3), plate_at(3 + behind, 1, 3)),
                                     kRange)
        .fraction;
  };
  CHECK(seen(5) > 0.6);
  CHECK(seen(12) == 0);
}

TEST_CASE("A step of less than an eighth of the tolerance is left to U") {
  const SecondLayer l =
      cavity::find_second_layer(flat_sheet(), scan_of(plate_at(0)), both(plate_at(3), plate_at(3.1, 1, 3)), kRange);
  CHECK(l.fraction == 0);
}

TEST_CASE("The two walls of a rib, each facing the other half, are no ghost") {
  // A rib of the upper half, 6 mm thick, in a groove of the lower one: walls at x = 0 and 12, and at 3 and 9.
  std::vector<Vec3> lower, upper;
  const Vec3 along(0, 60, 0), deep(0, 0, 60);
  add_face(lower, {0, 0, 0}, along, deep, 1, 1), add_face(lower, {12, 0, 0}, along, deep, 1, 2);
  add_face(upper, {3, 0, 0}, along, deep, 1, 3), add_face(upper, {9, 0, 0}, along, deep, 1, 4);
  Sheet wall = flat_sheet();
  for (Vec3& p : wall.mesh.points) p = Vec3(0, p.y(), 0.75 * p.x());
  for (Vec3& n : wall.normals) n = Vec3::UnitX();
  CHECK(cavity::find_second_layer(wall, scan_of(lower), scan_of(upper), kRange).fraction == 0);
}
