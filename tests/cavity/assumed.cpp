// The gap that a filling takes where none was measured.
#include <catch2/catch.hpp>

#include "../plate.hpp"
#include "../random.hpp"
#include "gapfront/cavity.hpp"

using namespace gapfront;

namespace {

/// A plate of 400 mm by 300 mm with a node each 6 mm.
Sheet holed_plate() {
  return cavity::make_sheet(support::plate_of(66, 50, [](int i, int j) { return Vec3(6.0 * i, 6.0 * j, 0); }));
}

struct WithHoles {
  Sheet sheet = holed_plate();
  GapMap map;
  std::vector<double> nominal, truth;
  /// Deviations from a nominal of 3 mm, measured without error, but for holes of that radius (mm) 110 mm apart.
  template <class Deviation>
  WithHoles(double radius, Deviation deviation) {
    map.nodes.resize(sheet.size());
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      const Vec3& p = sheet.mesh.points[i];
      nominal.push_back(3), truth.push_back(3 + deviation(p));
      const Vec3 hole(70 + 110 * std::round((p.x() - 70) / 110), 70 + 110 * std::round((p.y() - 70) / 110), 0);
      NodeGap& n = map.nodes[i];
      n.measured = (p - hole).norm() > radius;
      n.gap = n.measured ? truth[i] : 0;
    }
  }
  AssumedGap assumed() const { return cavity::assume_gap(sheet, map, nominal); }
};

/// RandomDeviation of random phase: 0.1 mm of standard deviation, alike over `length` (mm) as exp(−r²/2L²).
struct RandomDeviation {
  std::vector<Vec3> wave;
  std::vector<double> phase;
  RandomDeviation(double length, unsigned seed) {
    support::Random random(seed);
    for (int k = 0; k < 200; ++k) {
      wave.push_back(random.vector() / length);
      phase.push_back(random.uniform(0, 2 * M_PI));
    }
  }
  double operator()(const Vec3& p) const {
    double sum = 0;
    for (std::size_t k = 0; k < wave.size(); ++k) sum += std::cos(wave[k].dot(p) + phase[k]);
    return 0.1 * std::sqrt(2.0 / double(wave.size())) * sum;
  }
};

}  // namespace

TEST_CASE("A sheet that is measured everywhere has its gap as it is, and nothing assumed") {
  const WithHoles c(-1, [](const Vec3& p) { return 0.001 * p.x(); });
  const AssumedGap a = c.assumed();
  CHECK(a.gap == c.truth);
  CHECK(a.u.empty());
}

TEST_CASE("Over holes in a gap that is off evenly, the assumed gap is off by as much") {
  const WithHoles c(30, [](const Vec3&) { return 0.4; });
  const AssumedGap a = c.assumed();
  for (std::size_t i = 0; i < c.truth.size(); ++i) {
    CHECK(a.gap[i] == Approx(3.4));
    CHECK(a.u[i] == Approx(0).margin(1e-9));
  }
}

TEST_CASE("Over holes in a slope, the assumed gap follows it, and may be off by what the way to the rim makes of it") {
  const WithHoles c(30, [](const Vec3& p) { return 0.002 * p.x(); });
  const AssumedGap a = c.assumed();
  for (std::size_t i = 0; i < c.truth.size(); ++i) {
    const Vec3& p = c.sheet.mesh.points[i];
    if (p.x() < 350 && p.y() < 250)  // what is measured lies on one side only of holes at the rim
      CHECK(a.gap[i] == Approx(c.truth[i]).margin(0.003));
    CHECK((a.u[i] > 0) == !c.map.nodes[i].measured);
    CHECK(a.u[i] < 0.002 * 31);
  }
  CHECK(a.length == Approx(30).margin(6));
}

// Held against fields of known correlation: the assumed gap's error beside its u, over holes of 40 mm in 20 fields
// each.
TEST_CASE("Two u hold what the assumed gap is off in 95 % of places, on rough fields and on smooth ones") {
  for (const double length : {15.0, 30.0, 60.0, 150.0}) {
    double square = 0;
    int within = 0, places = 0;
    for (unsigned seed = 0; seed < 20; ++seed) {
      const WithHoles c(40, RandomDeviation(length, seed));
      const AssumedGap a = c.assumed();
      for (std::size_t i = 0; i < c.truth.size(); ++i) {
        if (c.map.nodes[i].measured) continue;
        const double z = (a.gap[i] - c.truth[i]) / a.u[i];
        square += z * z, within += std::abs(z) <= 2, ++places;
      }
    }
    CAPTURE(length);
    CHECK(within >= 0.95 * places);
    if (length < 20) CHECK(std::sqrt(square / places) > 0.5);  // and no allowance for the sake of it
  }
}

TEST_CASE("A part of the sheet without a measured node has the nominal gap, and no u") {
  WithHoles c(-1, [](const Vec3&) { return 0.2; });
  for (NodeGap& n : c.map.nodes) n.measured = false;
  const AssumedGap a = c.assumed();
  CHECK(a.gap == c.nominal);
  CHECK(a.u.empty());
}
