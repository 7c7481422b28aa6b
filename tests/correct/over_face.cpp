// Lengths over a face, against those known.
#include <catch2/catch.hpp>
#include <cmath>

#include "../conformity/plate.hpp"
#include "correct/over_face.hpp"

using namespace gapfront;

namespace {

int node_at(const Mesh& m, const Vec3& p) {
  int best = 0;
  for (int i = 0; i < static_cast<int>(m.points.size()); ++i)
    if ((m.points[i] - p).norm() < (m.points[best] - p).norm()) best = i;
  return best;
}

double over(const correct::OverFace& face, int from, int to) {
  correct::TapeFrom f;
  f.node = from;
  return correct::length_of(face.trace(f, face.spread(f), to));
}

}  // namespace

// A taut line that would cross the mesh beyond a node stays on this side of it, here for up to 0.2 % more.
TEST_CASE("On a plane the length over the face is the straight one") {
  const Mesh m = plate::sheet(240, 180, 10).mesh;
  const correct::OverFace face(m);
  for (const Vec3& to : {Vec3(110, 80, 0), Vec3(-50, 70, 0), Vec3(-100, -90, 0), Vec3(30, 0, 0)}) {
    const int a = node_at(m, Vec3(-20, -10, 0)), b = node_at(m, to);
    CHECK(over(face, a, b) == Approx((m.points[a] - m.points[b]).norm()).epsilon(2.5e-3));
  }
}

// Wrapped on a cylinder of 60 mm radius lengths are those of the plane; the mesh's chords are short of their arcs by
// (10/60)²/24 = 0.12 %.
TEST_CASE("Over a cylinder the length is that of the unrolled face") {
  const Mesh flat = plate::sheet(160, 180, 10).mesh;
  Mesh m = flat;
  for (Vec3& p : m.points) p = Vec3(60 * std::sin(p.x() / 60), p.y(), 60 * std::cos(p.x() / 60));
  const correct::OverFace face(m);
  const int a = node_at(flat, Vec3(-70, -80, 0));
  for (const Vec3& to : {Vec3(70, 70, 0), Vec3(60, -80, 0), Vec3(-10, 90, 0)}) {
    const int b = node_at(flat, to);
    const double truth = (flat.points[a] - flat.points[b]).norm();
    CHECK(over(face, a, b) < truth * 1.001);
    CHECK(over(face, a, b) > truth * 0.998);
  }
}

// Great circles: R times the angle between the two. Chords of 8 mm on 150 mm: short by 0.012 %.
TEST_CASE("Over a ball the length is that of the great circle") {
  Mesh m = plate::sheet(240, 200, 8).mesh;
  for (Vec3& p : m.points) {
    const double angle = p.norm() / 150;
    const Vec3 out = p.norm() > 0 ? Vec3(p.normalized()) : Vec3::UnitX();
    p = 150 * (std::sin(angle) * out + std::cos(angle) * Vec3::UnitZ());
  }
  const correct::OverFace face(m);
  const auto truth = [&](int a, int b) { return 150 * std::acos(m.points[a].dot(m.points[b]) / 150 / 150); };
  const int a = node_at(m, Vec3(-70, -50, 130));
  for (const Vec3& to : {Vec3(70, 20, 130), Vec3(0, 0, 150), Vec3(80, -60, 110), Vec3(-60, 70, 115)}) {
    const int b = node_at(m, to);
    CHECK(over(face, a, b) == Approx(truth(a, b)).epsilon(2e-3));
  }
}

TEST_CASE("From a side of the rim the tape runs squarely in, and from outside over the rim") {
  const Mesh m = plate::sheet(240, 180, 10).mesh;
  const correct::OverFace face(m);
  correct::TapeFrom side;
  for (const int e : face.rim())
    if (face.edges()[e].at(m, 0.5).x() > 119) side.edges.push_back(e);
  REQUIRE(side.edges.size() == 18);
  const int to = node_at(m, Vec3(30, -20, 0));
  CHECK(correct::length_of(face.trace(side, face.spread(side), to)) == Approx(90).margin(0.05));
  correct::TapeFrom station;
  station.outside = {Vec3(140, 110, 0)};
  CHECK(correct::length_of(face.trace(station, face.spread(station), to)) ==
        Approx(std::hypot(110, 130)).epsilon(2.5e-3));
}
