#include <catch2/catch.hpp>
#include "gap_cases.hpp"

using namespace gapfront;
using namespace gap_cases;

namespace {

/// Flat sheet of 11 × 11 nodes, 30 mm apart, gap 3 mm at every node; fits known to `u`, no common parts.
std::pair<Sheet, GapMap> flat(double u) {
  Sheet sheet;
  const int n = 11;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) sheet.mesh.points.emplace_back(30 * i - 150, 30 * j - 150, 0);
  for (int j = 0; j + 1 < n; ++j)
    for (int i = 0; i + 1 < n; ++i) {
      const int a = j * n + i;
      sheet.mesh.triangles.push_back({a, a + 1, a + n + 1});
      sheet.mesh.triangles.push_back({a, a + n + 1, a + n});
    }
  sheet.area.assign(sheet.size(), 900);
  GapMap map;
  for (const Vec3& p : sheet.mesh.points) {
    NodeGap g;
    g.measured = true;
    g.gap = 3;
    g.mid = p + Vec3(0, 0, 1.5);
    g.u_lower = u;
    map.nodes.push_back(g);
  }
  return {sheet, map};
}

/// Readings of U at every 60 mm (25 of them), each off by its own noise and by what `shift` takes from the gap.
template <class F>
std::vector<SpotReading> readings(double U, unsigned seed, const F& shift, double noise) {
  support::FineRandom random(seed);
  std::vector<SpotReading> out;
  for (int x = -120; x <= 120; x += 60)
    for (int y = -120; y <= 120; y += 60)
      out.push_back({"clay", Vec3(x, y, 0), 3 - shift(double(x), double(y)) + noise * random.gauss(), U});
  return out;
}

double none(double, double) { return 0; }

}  // namespace

TEST_CASE("A shift and a tilt between map and readings are found at their size") {
  // 0.1 mm at the origin, 0.4 mm/m along x: a rotation vector of (0, −4e-4, 0), for ω × x has −ω_y·x along z.
  const auto [sheet, map] = flat(0.005);
  const auto s = cavity::spot_shift(sheet, map,
                                    readings(
                                        0.02, 1, [](double x, double) { return 0.1 + 4e-4 * x; }, 0));
  CHECK(s.readings == 25);
  CHECK(s.parameters == 3);
  CHECK(s.offset == Approx(0.1).margin(1e-9));
  CHECK((s.tilt - Vec3(0, -4e-4, 0)).norm() < 1e-9);
  // 25 equal readings with u² = 10² + 5² µm²: the mean has U = 2·√125/5 µm.
  CHECK(s.offset_U == Approx(2 * std::sqrt(125e-6) / 5).epsilon(1e-9));
  CHECK(s.p < 1e-6);
  CHECK(s.p_tilt < 1e-6);
  for (const NodeGap& g : map.nodes) CHECK(s.at(g) == Approx(0.1 + 4e-4 * g.mid.x()).margin(1e-9));
}

TEST_CASE("Without a motion the test cries wolf in no more than its 5 % of cases") {
  // Noise of the stated size (u = √(10² + 5²) µm, all put on the reading). χ² alone has p < 0.05 in 5 %; taking F
  // where the residuals happen to exceed U can only raise p, and by 22 degrees of freedom not to nothing. 2,000 draws:
  // three standard deviations are 1.5 %.
  const auto [sheet, map] = flat(0.005);
  int below = 0, tilt_below = 0;
  const int draws = 2000;
  for (int k = 0; k < draws; ++k) {
    const auto s = cavity::spot_shift(sheet, map, readings(0.02, unsigned(k), none, std::sqrt(125e-6)));
    below += s.p < 0.05, tilt_below += s.p_tilt < 0.05;
  }
  for (int count : {below, tilt_below}) {
    CHECK(count <= 0.065 * draws);
    CHECK(count >= 0.02 * draws);
  }
}

TEST_CASE("Readings far worse than their U do not pass for a tilt") {
  // Five times the stated scatter: χ² alone would reject nearly always, F keeps its 5 % (three standard deviations).
  const auto [sheet, map] = flat(0.005);
  int below = 0;
  const int draws = 1000;
  for (int k = 0; k < draws; ++k)
    below += cavity::spot_shift(sheet, map, readings(0.02, unsigned(k), none, 5 * std::sqrt(125e-6))).p < 0.05;
  CHECK(below / double(draws) == Approx(0.05).margin(0.021));
}

TEST_CASE("A shift that the registration may explain is real, but not beyond it") {
  auto [sheet, map] = flat(0.005);
  map.registration(2, 2) = 0.05 * 0.05;  // 50 µm along z, 1σ; the readings are exact, so that no draw decides
  const auto s = cavity::spot_shift(sheet, map,
                                    readings(
                                        0.02, 3, [](double, double) { return 0.06; }, 0));
  CHECK(s.p < 1e-6);
  CHECK(s.p_beyond > 0.1);
}

TEST_CASE("Few readings, or readings in a row, give a shift only, and a single one gives nothing") {
  const auto [sheet, map] = flat(0.005);
  auto all = readings(
      0.02, 1, [](double, double) { return 0.1; }, 0);
  const std::vector<SpotReading> row(all.begin(), all.begin() + 5), one(all.begin(), all.begin() + 1);
  const auto s = cavity::spot_shift(sheet, map, row);
  CHECK(s.parameters == 1);
  CHECK(s.offset == Approx(0.1));
  CHECK(s.tilt.norm() == 0);
  CHECK(cavity::spot_shift(sheet, map, one).parameters == 0);
}

TEST_CASE("Removing a shift and a tilt leaves the true gap, and U gains what the motion is not known to") {
  auto [sheet, map] = flat(0.005);
  auto s = cavity::spot_shift(sheet, map,
                              readings(
                                  0.02, 1, [](double x, double) { return 0.1 + 4e-4 * x; }, 0));
  const GapMap before = map;
  cavity::remove_shift(map, s);
  CHECK(s.removed);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double x = sheet.mesh.points[i].x(), y = sheet.mesh.points[i].y();
    CHECK(map.nodes[i].gap == Approx(2.9 - 4e-4 * x).margin(1e-9));
    // 25 equal readings on a square grid, u² = 125 µm²: u²·(1/25 + (x² + y²)/Σx²), Σx² = 5·2·(60² + 120²) = 180,000.
    const double variance = 125e-6 * (1.0 / 25 + (x * x + y * y) / 180000);
    CHECK(map.nodes[i].u_registration == Approx(std::sqrt(variance)).epsilon(1e-6));
    CHECK(map.nodes[i].U == Approx(std::hypot(before.nodes[i].U, 2 * std::sqrt(variance))).epsilon(1e-6));
  }
}
