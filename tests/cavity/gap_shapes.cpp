// The gap on the shapes that a height field or a nearest point gets wrong: returns, ribs, tight radii, edges.
#include <catch2/catch.hpp>
#include "sheet_shapes.hpp"

using namespace gapfront;
using namespace sheet_shapes;

namespace {

/// A scan of the profile moved by `offset` along its normals, swept over 24 mm of Y, noise of 20 µm.
Surface scanned(const Profile& p, double offset, double spacing, unsigned seed) {
  Sampled s;
  s.spacing = spacing;
  s.dice = support::Random(seed);
  s.patch(p.length(), 24, [&](double u, double v) {
    auto q = p.at(u);
    q.first += offset * q.second + Vec3(0, v - 12, 0);
    return q;
  });
  return s.surface();
}

struct Covered {
  int measured = 0, missed = 0, covered = 0;
  double worst = 0;
  double fraction() const { return double(covered) / measured; }
};

/// Measures at stations every 0.37 mm from `from` to `to` along the profile, on five lines.
Covered run(const Profile& p, double gap, double spacing, double from, double to) {
  Covered r;
  GapOptions options;
  options.nominal = gap, options.u_instrument = 0;
  for (unsigned seed : {1u, 11u}) {
    const Surface lower = scanned(p, 0, spacing, seed), upper = scanned(p, gap, spacing, seed + 1);
    for (double s = from; s <= to; s += 0.37)
      for (double y = -3; y <= 3; y += 1.5) {
        const auto [x, n] = p.at(s);
        const NodeGap g = cavity::measure_gap_at(lower, upper, x + y * Vec3::UnitY(), n, options);
        if (!g.measured) {
          ++r.missed;
          continue;
        }
        ++r.measured;
        r.covered += std::abs(g.gap - gap) <= g.U;
        r.worst = std::max(r.worst, std::abs(g.gap - gap));
      }
  }
  return r;
}

}  // namespace

TEST_CASE("Under an overhang the gap is that of the return, not of the floor below it") {
  // Floor, a half turn of 9 mm radius, and back over the floor: its normals point down there. The upper half follows
  // 3 mm inside.
  const Profile p{{0, 0, 0}, 0, {{25, 0}, {9 * pi, 1 / 9.0}, {25, 0}}};
  const Covered r = run(p, 3, 1, 5, p.length() - 5);
  CHECK(r.missed == 0);
  CHECK(r.worst < 0.05);
  CHECK(r.fraction() >= 0.93);
}

TEST_CASE("Both walls, the top and the feet of a rib 3 mm wide have the gap of their own place") {
  // Feet of 4 mm radius, walls of 10 mm, a round top of 1.5 mm radius, scanned every 0.5 mm; the upper half 2 mm off.
  const Profile p{
      {-30, 0, 0}, 0, {{20, 0}, {2 * pi, 1 / 4.0}, {10, 0}, {1.5 * pi, -1 / 1.5}, {10, 0}, {2 * pi, 1 / 4.0}, {20, 0}}};
  const Covered r = run(p, 2, 0.5, 10, p.length() - 10);
  CHECK(r.missed == 0);
  CHECK(r.worst < 0.2);
  CHECK(r.fraction() >= 0.93);
}

TEST_CASE("At radii of 2 mm, outside and inside, scanned every 0.5 mm the gap is measured and U covers the error") {
  // Outside: lower 2 mm, upper 5 mm. Inside: lower 5 mm, upper 2 mm.
  const Profile outside{{-20, 0, 0}, 0, {{20, 0}, {pi, -1 / 2.0}, {20, 0}}},
      inside{{-20, 0, 0}, 0, {{20, 0}, {2.5 * pi, 1 / 5.0}, {20, 0}}};
  for (const Profile& p : {outside, inside}) {
    const Covered r = run(p, 3, 0.5, 12, p.length() - 12);
    CHECK(r.missed == 0);
    CHECK(r.worst < 0.2);
    CHECK(r.fraction() >= 0.93);
  }
}

TEST_CASE("At the sheet's edge, where both scans end, the gap is measured from one side and U says what it is worth") {
  const Profile p{{0, 0, 0}, 0.2, {{40, 1 / 80.0}}};
  const Covered edge = run(p, 3, 1, 0, 0.5), middle = run(p, 3, 1, 15, 25);
  CHECK(edge.missed == 0);
  CHECK(edge.fraction() >= 0.9);
  CHECK(edge.worst < 0.1);
  CHECK(middle.worst < 0.03);
}
