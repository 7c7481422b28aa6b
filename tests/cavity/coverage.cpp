// The claim on U, over many small molds of known truth and all their nodes: the interval gap ± U holds the true gap at
// 93 to 98 % of them, with all parts of the budget at work and with each alone.
#include <catch2/catch.hpp>
#include "gap_cases.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {

constexpr double gap = 3;  // mm, of every mold but the wavy ones

/// What is wrong with a mold's scans; standard deviations, mm.
struct Errors {
  double noise = 0, instrument = 0, registration = 0, temperature = 0;
};

struct Mold {
  Face lower, upper;
  std::function<double(const Point&)> truth;
};

Face moved(const Face& face, const Face& along, double offset) {
  return [=](double u, double v) {
    Point p = face(u, v);
    p.place += offset * along(u, v).normal;
    return p;
  };
}

/// Molds of random size. Upper faces are the lower ones moved along their normals; over waves there is a plane, so that
/// what the fits leave out of the waves is not left out of the other face as well. There the ball that touches the
/// lower face at p with normal n has its centre r n above p and r below the plane: 2r = 2 (gap − p.z)/(1 + n.z).
Mold draw_mold(int kind, support::FineRandom& dice) {
  const double s = 1 + dice.uniform();
  if (kind >= 4) {
    const Face lower = kind == 4   ? waves(0.3, 18 * s)
                       : kind == 5 ? waves(0.1, 12 * s)
                       : kind == 6 ? waves(0.15 * s, 12)
                                   : waves(0.5 * s, 12 + 8 * dice.uniform());
    return {lower, plane(gap * Z, X, Y), [](const Point& p) { return 2 * (gap - p.place.z()) / (1 + p.normal.z()); }};
  }
  const Face lower = kind == 0   ? plane(O, X, Y)
                     : kind == 1 ? cylinder(O, 20 * s)
                     : kind == 2 ? sphere(O, 25 * s)
                                 : torus(40 * s, 20 * s);
  return {lower, moved(lower, lower, gap), [](const Point&) { return gap; }};
}
constexpr int kinds = 6;                          // drawn in turn
constexpr int hidden_waves = 6, tight_waves = 7;  // not among them: a test of their own each

struct Share {
  int inside = 0, all = 0;
  double value() const { return double(inside) / all; }
  void add(const Share& o) { inside += o.inside, all += o.all; }
};

/// One mold: scans drawn with the errors, nodes 3.5 mm apart on the true lower face, the map as the program makes it.
Share run(int kind, unsigned seed, const Errors& e) {
  support::FineRandom dice(seed);
  const auto [lower, upper, truth] = draw_mold(kind, dice);
  // The systematic error of a scan lies along its normals; growth is shared out to the upper half.
  const double low_off = e.instrument * dice.gauss(),
               up_off = e.instrument * dice.gauss() + e.temperature * dice.gauss();
  auto low_points = sampled_face(moved(lower, lower, low_off), -15, 15, -15, 15, 1, e.noise, seed + 1);
  auto up_points = sampled_face(moved(upper, upper, up_off), -16, 16, -16, 16, 1, e.noise, seed + 2);
  Alignment alignment;
  alignment.pivot = Vec3(20, -10, 0);
  if (e.registration > 0) {
    Vector6 root;
    // A tilt that moves a point 30 mm off the pivot by as much as the shift does.
    root << 1, 1, 1, 1 / 30.0, 1 / 30.0, 1 / 30.0;
    root *= e.registration;
    alignment.covariance = (root.array() * root.array()).matrix().asDiagonal();
    Vector6 m;
    for (int i = 0; i < 6; ++i) m(i) = root(i) * dice.gauss();
    for (Vec3& p : up_points) p += m.head<3>() + Vec3(m.tail<3>()).cross(p - alignment.pivot);
  }
  GapOptions options;
  options.u_instrument = e.instrument, options.u_temperature = e.temperature;
  Mesh mesh;
  for (int i = 0; i < 5; ++i)
    for (int j = 0; j < 5; ++j) mesh.points.push_back(lower(3.5 * (i - 2), 3.5 * (j - 2)).place);
  for (int i = 0; i < 4; ++i)
    for (int j = 0; j < 4; ++j) {
      const int a = 5 * i + j;
      mesh.triangles.push_back({a, a + 5, a + 6}), mesh.triangles.push_back({a, a + 6, a + 1});
    }
  const GapMap map = cavity::measure_gap(
      cavity::make_sheet(std::move(mesh)), Surface(std::move(low_points), {.spacing = 1, .noise = e.noise}),
      Surface(std::move(up_points), {.spacing = 1, .noise = e.noise}), alignment, options);
  Share out;
  for (int k = 0; k < 25; ++k) {
    const NodeGap& g = map.nodes[k];
    REQUIRE(g.measured);
    out.inside += std::abs(g.gap - truth(lower(3.5 * (k / 5 - 2), 3.5 * (k % 5 - 2)))) <= g.U, ++out.all;
  }
  return out;
}

Share over(int molds, unsigned seed, const Errors& e) {
  Share all;
  for (int k = 0; k < molds; ++k) all.add(run(k % kinds, seed + 10 * unsigned(k), e));
  return all;
}

void check(const Share& s) {
  CHECK(s.value() >= 0.93);
  CHECK(s.value() <= 0.98);
}

}  // namespace

TEST_CASE("With every part of the budget at work U covers 93 to 98 % of the nodes of 240 molds") {
  check(over(240, 1, {.noise = 0.02, .instrument = 0.005, .registration = 0.005, .temperature = 0.003}));
}

TEST_CASE("The fit's noise alone is covered at 93 to 98 % of the nodes of 240 molds") {
  check(over(240, 100001, {.noise = 0.02}));
}

// Waves whose truncation is about the fit's noise, 5 to 10 µm: at a single node it cannot be told from it, and U by the
// node alone covered 89 % of them.
TEST_CASE("Where a truncation hides in the noise of every node, the neighbourhood brings U to 93 % and more") {
  Share all;
  for (unsigned k = 0; k < 60; ++k) all.add(run(hidden_waves, 500001 + 10 * k, {.noise = 0.02}));
  check(all);
}

// Radii of 4 to 20 mm at 1 mm spacing, whose curvature is nil between crest and trough.
TEST_CASE("On waves as tight as a few spacings U covers 93 to 98 % of the nodes of 90 molds") {
  Share all;
  for (unsigned k = 0; k < 90; ++k) all.add(run(tight_waves, 600001 + 10 * k, {.noise = 0.02}));
  check(all);
}

// What follows is one draw a mold, shared by its nodes: the share itself scatters by √(0.046·0.954/molds).
TEST_CASE("A scan's systematic error alone is covered at 93 to 98 % of the nodes of 300 molds") {
  check(over(300, 200001, {.instrument = 0.02}));
}

TEST_CASE("The registration's error alone is covered at 93 to 98 % of the nodes of 300 molds") {
  check(over(300, 300001, {.registration = 0.01}));
}

TEST_CASE("Growth by temperature alone is covered at 93 to 98 % of the nodes of 300 molds") {
  check(over(300, 400001, {.temperature = 0.02}));
}
