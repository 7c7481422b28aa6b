// A channel 12 mm wide and 8 mm deep, sharper at its edges than a scan resolves: issue 18, point 4. Both halves' outer
// edges have the same small radius; the upper half is 3 mm off everywhere.
#include <catch2/catch.hpp>

#include "sheet_shapes.hpp"

using namespace gapfront;
using namespace sheet_shapes;

namespace {

constexpr double kGap = 3, kWide = 12, kDeep = 8, kLand = 20, kLong = 30;

/// Land, edge, wall, foot, floor and back; `edge` is the radius of the lower half's edges and of the upper half's nose.
Profile channel_of(double edge) {
  const double foot = edge + kGap, wall = kDeep - foot - edge, quarter = pi / 2;
  Profile p;
  p.start = Vec3(-kWide / 2 - edge - kLand, 0, 0);
  p.parts = {{kLand, 0},
             {quarter * edge, -1 / edge},
             {wall, 0},
             {quarter * foot, 1 / foot},
             {kWide - 2 * foot, 0},
             {quarter * foot, 1 / foot},
             {wall, 0},
             {quarter * edge, -1 / edge},
             {kLand, 0}};
  return p;
}

/// The face 3 mm above, walked by its own length.
Profile above_channel(Profile p) {
  p.start += Vec3(0, 0, kGap);
  for (Profile::Part& part : p.parts)
    if (part.turn != 0) {
      const double radius = 1 / part.turn;
      part = {part.length * (radius - kGap) / radius, 1 / (radius - kGap)};
    }
  return p;
}

Surface scan_of_channel(const Profile& p, double spacing, unsigned seed) {
  Sampled s;
  s.spacing = spacing, s.noise = 0.01, s.dice = support::Random(seed);
  s.patch(p.length(), kLong, [&](double u, double v) {
    auto q = p.at(u);
    q.first.y() = v - kLong / 2;
    return q;
  });
  return s.surface();
}

struct Channel {
  Surface low, up;
  Sheet sheet;
  GapMap map;
  double covered = 0, bias = 0, rms = 0;  // of the nodes below the lands; share, mm
  double land_U = 0;                      // median on the lands, mm
};

Channel measured_channel(double edge, double spacing) {
  const Profile p = channel_of(edge);
  const Surface low = scan_of_channel(p, spacing, 1), up = scan_of_channel(above_channel(p), spacing, 2);
  SheetOptions o;
  o.edge = 3, o.min_edge = 1;
  const double x = kWide / 2 + edge + kLand - 4, y = kLong / 2 - 4;
  o.seal = rectangle(-x, -y, x, y);
  GapOptions g;
  g.u_instrument = 0;
  Channel c{low, up, {}, {}};
  c.sheet = cavity::build_sheet(low, up, o);
  c.map = cavity::measure_gap(c.sheet, low, up, {}, g);
  std::vector<double> land;
  int n = 0;
  for (std::size_t i = 0; i < c.sheet.size(); ++i) {
    const NodeGap& node = c.map.nodes[i];
    if (!node.measured) continue;
    if (std::abs(c.sheet.mesh.points[i].x()) > kWide / 2 + edge + 5) land.push_back(node.U);
    if (c.sheet.mesh.points[i].z() > -0.02) continue;
    const double error = node.gap - kGap;
    ++n, c.covered += std::abs(error) <= node.U, c.bias += error, c.rms += error * error;
  }
  c.covered /= n, c.bias /= n, c.rms = std::sqrt(c.rms / n);
  std::nth_element(land.begin(), land.begin() + long(land.size() / 2), land.end());
  c.land_U = land[land.size() / 2];
  return c;
}

}  // namespace

// Before cubic and quartic terms were looked for in the residuals, at 0.8 mm: U held for 85 % (radius 0.5 mm) and 87 %
// (1 mm), bias +74 and +33 µm, RMS 119 and 74 µm; at 0.5 mm 93 and 95 %. What is left is a systematic error, so that
// U, which must hold where it is greatest, holds for more than 98 % of the rest.
TEST_CASE(
    "In a channel with edges of 0.5 and 1 mm radius U holds at spacings of 0.8 and 0.5 mm, and the bias is small") {
  struct Case {
    double edge, spacing, bias, rms;
  };
  for (const Case& c : {Case{0.5, 0.8, 0.04, 0.06}, Case{1, 0.8, 0.02, 0.04}, Case{0.5, 0.5, 0.012, 0.02}}) {
    const Channel m = measured_channel(c.edge, c.spacing);
    CAPTURE(c.edge, c.spacing, m.covered, m.bias, m.rms);
    CHECK(m.covered >= 0.95);
    CHECK(std::abs(m.bias) < c.bias);
    CHECK(m.rms < c.rms);
    // On flats nothing is looked for: 2 × √2 × 2.45 µm (4.8 σ²/N), as ever.
    CHECK(m.land_U == Approx(0.0072).epsilon(0.1));
    if (c.edge > 0.5) continue;
    // The nose runs all along the channel, on either side.
    const auto places = cavity::narrow_places(m.sheet, m.map, NarrowPlace::Half::upper, m.up);
    REQUIRE(places.size() >= 2);
    CHECK(places[1].length > 15);
    CHECK(std::abs(places[0].at.x()) > 2);
    CHECK(std::abs(places[0].at.x()) < 7);
    CHECK(places[0].U > m.land_U);
  }
}

// What `conformity::better_scans` promises for more points.
TEST_CASE("Half the spacing takes U at a bend that was not resolved to about a quarter") {
  const auto nose_U = [](double spacing) {
    const Channel m = measured_channel(0.5, spacing);
    std::vector<double> U;
    for (std::size_t i = 0; i < m.sheet.size(); ++i) {
      // Feet of the channel, where the upper half's noses are opposite.
      const Vec3& p = m.sheet.mesh.points[i];
      if (m.map.nodes[i].measured && p.z() < -5.5 && std::abs(p.x()) > 3.4) U.push_back(m.map.nodes[i].U);
    }
    std::nth_element(U.begin(), U.begin() + long(U.size() / 2), U.end());
    return U[U.size() / 2];
  };
  CHECK(nose_U(0.4) / nose_U(0.8) == Approx(0.25).margin(0.08));
}

TEST_CASE("Where the scan resolves the edges of a channel, no place is called too narrow for it") {
  const Channel m = measured_channel(2, 0.4);
  for (const auto half : {NarrowPlace::Half::lower, NarrowPlace::Half::upper})
    for (const NarrowPlace& p :
         cavity::narrow_places(m.sheet, m.map, half, half == NarrowPlace::Half::lower ? m.low : m.up))
      CHECK(p.length < 5);
  CHECK(m.covered >= 0.93);
}
