#include "gapfront/draws.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

constexpr int many = 2000;

struct Case {
  Sheet sheet = cavity::make_sheet(strip(6, 4, 120, 80).mesh);
  GapMap map;
  Case() {
    map.nodes.resize(sheet.size());
    map.pivot = Vec3(60, 40, 0);
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      NodeGap& n = map.nodes[i];
      n.measured = true, n.mid = sheet.mesh.points[i];
      n.u_lower = 0.006, n.u_upper = 0.008, n.u_instrument = 0.015, n.u_temperature = 0.005;
      // A tilt about Y of 0.2 mrad and a lift of 10 µm.
      n.u_registration = std::hypot(0.01, 2e-4 * (n.mid.x() - 60));
    }
    map.registration(2, 2) = 1e-4, map.registration(4, 4) = 4e-8;
  }
};

}  // namespace

TEST_CASE("The gap is drawn with each node's standard uncertainty, and not where it is not measured") {
  Case c;
  c.map.nodes[3].measured = false;
  const Draws draws(c.sheet, c.map, {.spread = 0.2, .length = 50}, 1);
  std::vector<double> sum2(c.sheet.size(), 0);
  for (unsigned k = 0; k < many; ++k) {
    const Draw d = draws(k);
    for (std::size_t i = 0; i < sum2.size(); ++i) sum2[i] += d.gap[i] * d.gap[i];
  }
  CHECK(sum2[3] == 0);
  for (std::size_t i = 0; i < sum2.size(); ++i) {
    if (i == 3) continue;
    const NodeGap& n = c.map.nodes[i];
    const double u = std::sqrt(std::pow(n.u_lower, 2) + std::pow(n.u_upper, 2) + std::pow(n.u_instrument, 2) +
                               std::pow(n.u_temperature, 2) + std::pow(n.u_registration, 2));
    // A standard deviation of 2000 normal numbers is known to 1/√4000 of itself: 5 of those.
    CHECK(std::sqrt(sum2[i] / many) == Approx(u).epsilon(5 / std::sqrt(2.0 * many)));
  }
}

TEST_CASE("The permeability is drawn with its spread, alike near by and not far off") {
  const Case c;
  const double spread = 0.25, length = 30;
  const Draws draws(c.sheet, c.map, {.spread = spread, .length = length}, 2);
  // From the middle of an edge to one length away, and to the far corner.
  const Vec3 from(0, 40, 0), near(30, 40, 0), far(120, 80, 0);
  const auto node = [&](const Vec3& p) {
    std::size_t best = 0;
    for (std::size_t i = 0; i < c.sheet.size(); ++i)
      if ((c.sheet.mesh.points[i] - p).norm() < (c.sheet.mesh.points[best] - p).norm()) best = i;
    return best;
  };
  const std::size_t a = node(from), b = node(near), z = node(far);
  double aa = 0, ab = 0, az = 0;
  for (unsigned k = 0; k < many; ++k) {
    const Draw d = draws(k);
    const double at = std::log(d.permeability[a]) / spread;
    aa += at * at / many, ab += at * std::log(d.permeability[b]) / spread / many,
        az += at * std::log(d.permeability[z]) / spread / many;
  }
  const auto expected = [&](std::size_t i) {
    return std::exp(-(c.sheet.mesh.points[i] - c.sheet.mesh.points[a]).squaredNorm() / (2 * length * length));
  };
  // A variance or a correlation of 2000 draws is known to √(2/2000) = 0.03 at worst: 5 of those.
  CHECK(aa == Approx(1).margin(0.16));
  CHECK(ab == Approx(expected(b)).margin(0.16));
  CHECK(az == Approx(expected(z)).margin(0.16));
}

TEST_CASE("Scatter of the glass leaves the flow through an open channel as it is") {
  LaminateMap state;
  state.nodes.resize(2);
  // 1 mm open, which alone conducts 1/12 mm³, beside glass that conducts a hundredth of that; and glass alone.
  const double channel = 1.0 / 12, reinforcement = channel / 100;
  state.nodes[0].channel = 1;
  state.nodes[0].conductance = state.nodes[0].conductance2 = channel + reinforcement;
  state.nodes[1].conductance = reinforcement, state.nodes[1].conductance2 = 2 * reinforcement;
  flow::scatter_reinforcement(state, {3, 0.5});
  CHECK(state.nodes[0].conductance == Approx(channel + 3 * reinforcement).epsilon(1e-12));
  CHECK(state.nodes[1].conductance == Approx(0.5 * reinforcement).epsilon(1e-12));
  CHECK(state.nodes[1].conductance2 == Approx(reinforcement).epsilon(1e-12));
}

TEST_CASE("Draws with another scatter are those that are made with it from the start") {
  const Case c;
  const ScatterModel first{.spread = 0.2, .length = 50}, other{.spread = 0.3, .length = 35};
  const Draw made = Draws(c.sheet, c.map, other, 6)(5), changed = Draws(c.sheet, c.map, first, 6).with(other)(5);
  CHECK(changed.permeability == made.permeability);
  CHECK(changed.gap == made.gap);
}

TEST_CASE("A draw depends on its number alone") {
  const Case c;
  const Draws one(c.sheet, c.map, {.spread = 0.2, .length = 50}, 6),
      other(c.sheet, c.map, {.spread = 0.2, .length = 50}, 6);
  other(4);
  CHECK(one(5).gap == other(5).gap);
  CHECK(one(5).permeability == other(5).permeability);
  CHECK(one(5).gap != one(6).gap);
}
