#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/conformity.hpp"
#include "gapfront/text.hpp"
#include "plate.hpp"

using namespace gapfront;

namespace {

constexpr double kEdge = 6;
const Vec3 kCentre(85, -45, 0);
constexpr double kRadius = 35, kPeak = 0.6;

/// Each node for itself: no disc takes in its neighbours.
const ToleranceOptions kPointwise = [] {
  ToleranceOptions o;
  o.min_area = 1;
  return o;
}();

Verdict tilted_with_bump(double sigma, std::uint64_t seed) {
  const Sheet s = plate::sheet(360, 258, kEdge);
  plate::Noise noise{seed};
  const GapMap g = plate::gap(s, sigma, [&](const Vec3& p) {
    return 3 + 0.25 - 0.25 / 2 * (p.x() / 184 + p.y() / 134) + kPeak * plate::bump(p, kCentre, kRadius) +
           sigma * noise();
  });
  return conformity::judge(s, g, {});
}

}  // namespace

TEST_CASE("Area shares add up and follow the node areas") {
  const Sheet s = plate::sheet(100, 100, 10);
  GapMap g = plate::gap(s, 0.02, [](const Vec3& p) { return p.x() > 21 ? 3.5 : p.x() > 11 ? 3.3 : 3.0; });
  g.nodes[0].measured = false;  // a corner: two triangles or one, here 10·10/6·(1 or 2)
  const Verdict v = conformity::judge(s, g, kPointwise);
  // Nodes at x = 30, 40 (weight 1) and 50 (weight ½) of ten columns: 25 %; the column at 20: 10 %.
  CHECK(v.fraction[2] == Approx(0.25));
  CHECK(v.fraction[1] == Approx(0.10));
  CHECK(v.fraction[3] == Approx(s.area[0] / 1e4));
  CHECK(v.fraction[0] + v.fraction[1] + v.fraction[2] + v.fraction[3] == Approx(1));
  CHECK(v.overall == Conformity::nonconforming);
  CHECK_THAT(say(v.headline), Catch::StartsWith("Nonconforming. The gap is provably outside its limits over 25.0 %"));
}

TEST_CASE("A gap within tolerance by U everywhere conforms") {
  const Sheet s = plate::sheet(100, 100, 10);
  const Verdict v = conformity::judge(s, plate::gap(s, 0.02, [](const Vec3&) { return 3.2; }), {});
  CHECK(v.overall == Conformity::conforming);
  CHECK(v.would_change.empty());
  CHECK(v.mean == Approx(0.2));
  CHECK(v.sigma == Approx(0).margin(1e-12));
}

TEST_CASE("A place of the least area that is not measured keeps the whole from conforming, a speck does not") {
  const Sheet s = plate::sheet(100, 100, 10);
  GapMap g = plate::gap(s, 0.02, [](const Vec3&) { return 3.0; });
  g.nodes[60].measured = false;
  ToleranceOptions o;
  o.min_area = 50;  // of the 100 mm² that one node stands for
  CHECK(conformity::judge(s, g, o).overall == Conformity::undecided);
  o.min_area = 491;
  CHECK(conformity::judge(s, g, o).overall == Conformity::conforming);
  o.allowed_nonconforming_fraction = 0.02;
  CHECK(conformity::judge(s, g, o).overall == Conformity::conforming);
}

// The undecided column lies 0.05 mm inside its limit. 1.645 u prove it inside, so u = 0.05/1.645, and U = 2 u = 0.0608.
TEST_CASE("The sentence for an undecided area names the U that would decide it") {
  const Sheet s = plate::sheet(100, 100, 10);
  const GapMap g = plate::gap(s, 0.04, [](const Vec3& p) { return p.x() > 41 ? 3.25 : 3.0; });
  const Verdict v = conformity::judge(s, g, kPointwise);
  CHECK(v.overall == Conformity::undecided);
  CHECK_THAT(say(v.would_change), Catch::Contains("a scan with U ≤ 0.060 mm"));
  CHECK_THAT(say(v.would_change), Catch::Contains("5.0 %"));
}

// Gap = 3 + a + b x + c y over directions Z: offset a at the pivot (the centroid, here the origin); rotation about Y by
// −b lifts +x by b·x, rotation about X by c lifts +y by c·y.
TEST_CASE("An offset and two tilts are recovered exactly and leave nothing") {
  const Sheet s = plate::sheet(200, 100, 10);
  const Verdict v =
      conformity::judge(s, plate::gap(s, 0.01, [](const Vec3& p) { return 3.1 + 0.001 * p.x() - 0.002 * p.y(); }), {});
  CHECK(v.offset == Approx(0.1));
  CHECK(v.tilt.x() == Approx(-0.002));
  CHECK(v.tilt.y() == Approx(-0.001));
  CHECK(v.remainder_rms < 1e-9);
  CHECK(v.rigid_significant);
}

// With independent u on N equal nodes the offset's U is k·u/√N (GUM, the uncertainty of a mean); a registration that is
// uncertain by s along Z adds k·s whatever N is.
TEST_CASE("The U of the offset keeps the registration apart from the fits") {
  const Sheet s = plate::sheet(200, 200, 10);
  GapMap g = plate::gap(s, 0.02, [](const Vec3&) { return 3.0; });
  double sum = 0, square = 0;  // unequal areas: k·u·√Σa² / Σa
  for (double a : s.area) sum += a, square += a * a;
  CHECK(conformity::judge(s, g, {}).offset_U == Approx(2 * 0.02 * std::sqrt(square) / sum).epsilon(1e-6));
  g.registration(2, 2) = 0.03 * 0.03;
  CHECK(conformity::judge(s, g, {}).offset_U == Approx(2 * 0.03).epsilon(0.01));
}

TEST_CASE("A bump on a tilted half is found where it is, with its peak and size") {
  const std::uint64_t seed = GENERATE(1, 2, 3);
  const Verdict v = tilted_with_bump(0.008, seed);  // 8 µm: what a fit leaves of 20 µm scan noise (design §11)
  REQUIRE(v.regions.size() == 1);
  const DeviationRegion& r = v.regions[0];
  CHECK(r.on_remainder);
  CHECK((r.centre - kCentre).norm() < 2 * kEdge);
  CHECK(r.peak == Approx(kPeak).epsilon(0.15));
  // ∫ (1 − r²)² over the disc = π R²/3.
  CHECK(r.volume == Approx(kPeak * M_PI * kRadius * kRadius / 3).epsilon(0.15));
  CHECK(std::sqrt(r.area / M_PI) == Approx(kRadius).epsilon(0.15));
  CHECK(r.decision == Conformity::nonconforming);
  CHECK(v.offset == Approx(0.25).margin(0.01));
}

TEST_CASE("The same holds with the full scan noise of 20 µm at every node") {
  const Verdict v = tilted_with_bump(0.02, 5);
  REQUIRE(v.regions.size() == 1);
  CHECK((v.regions[0].centre - kCentre).norm() < 2 * kEdge);
  CHECK(v.regions[0].peak == Approx(kPeak).epsilon(0.15));
  CHECK(std::sqrt(v.regions[0].area / M_PI) == Approx(kRadius).epsilon(0.15));
}

TEST_CASE("Noise alone makes no region") {
  const std::uint64_t seed = GENERATE(11, 12, 13, 14);
  const Sheet s = plate::sheet(360, 258, kEdge);
  plate::Noise noise{seed};
  const Verdict v = conformity::judge(s, plate::gap(s, 0.02, [&](const Vec3&) { return 3 + 0.02 * noise(); }), {});
  CHECK(v.regions.empty());
}

TEST_CASE("A wide and a tight place are two regions, ranked by volume") {
  const Sheet s = plate::sheet(360, 258, kEdge);
  const Verdict v = conformity::judge(s,
                                      plate::gap(s, 0.01,
                                                 [](const Vec3& p) {
                                                   return 3 + 0.6 * plate::bump(p, Vec3(-90, 20, 0), 30) -
                                                          0.8 * plate::bump(p, Vec3(60, 0, 0), 45);
                                                 }),
                                      {});
  REQUIRE(v.regions.size() == 2);
  CHECK(v.regions[0].name == "R1");
  CHECK_FALSE(v.regions[0].high);
  CHECK(v.regions[0].peak == Approx(-0.8).epsilon(0.1));
  CHECK(v.regions[1].high);
}

TEST_CASE("The outline closes around the region and encloses its area") {
  const Verdict v = tilted_with_bump(0.008, 1);
  REQUIRE(v.regions.size() == 1);
  const auto& o = v.regions[0].outline;
  REQUIRE(o.size() > 10);
  CHECK((o.front() - o.back()).norm() == 0);
  double area = 0;
  for (std::size_t k = 0; k + 1 < o.size(); ++k) area += 0.5 * (o[k].x() * o[k + 1].y() - o[k + 1].x() * o[k].y());
  CHECK(area == Approx(v.regions[0].area).epsilon(0.1));
}

// A cut by the plate's edge must still close: the outline runs along the edge.
TEST_CASE("The outline of a region at the sheet's edge runs along the edge") {
  const Sheet s = plate::sheet(120, 120, kEdge);
  const Verdict v = conformity::judge(
      s, plate::gap(s, 0.01, [](const Vec3& p) { return 3 + plate::bump(p, Vec3(-60, 0, 0), 30); }), {});
  REQUIRE(v.regions.size() == 1);
  const auto& o = v.regions[0].outline;
  CHECK((o.front() - o.back()).norm() == 0);
  double along = 0;
  for (std::size_t k = 0; k + 1 < o.size(); ++k)
    if (o[k].x() < -59.999 && o[k + 1].x() < -59.999) along += (o[k] - o[k + 1]).norm();
  CHECK(along == Approx(60).epsilon(0.2));
}

// GUM: the mean of N independent u is u/√N, of N equal errors it is u.
TEST_CASE("The U of a region's mean does not average out what all nodes share") {
  const Sheet s = plate::sheet(240, 240, kEdge);
  const auto value = [](const Vec3& p) { return 3 + 0.8 * plate::bump(p, Vec3::Zero(), 50); };
  GapMap g = plate::gap(s, 0.02, value);
  const DeviationRegion alone = conformity::judge(s, g, {}).regions.at(0);
  double sum = 0, square = 0;  // unequal areas: k·u·√Σa² / Σa
  for (int i : alone.nodes) sum += s.area[i], square += s.area[i] * s.area[i];
  CHECK(alone.mean_U == Approx(2 * 0.02 * std::sqrt(square) / sum));
  for (auto& n : g.nodes) n.u_instrument = 0.015;
  const DeviationRegion common = conformity::judge(s, g, {}).regions.at(0);
  REQUIRE_FALSE(common.on_remainder);
  CHECK(common.mean_U_independent == Approx(alone.mean_U));
  CHECK(common.mean_U_common == Approx(2 * 0.015));
}

// Raising the whole half is what the rigid fit takes out: its uncertainty cannot reach the remainder.
TEST_CASE("On the remainder a registration error that the rigid part absorbs leaves no U") {
  const Sheet s = plate::sheet(240, 240, kEdge);
  GapMap g = plate::gap(s, 0.02, [](const Vec3& p) { return 3.3 + 0.8 * plate::bump(p, Vec3::Zero(), 50); });
  g.registration(2, 2) = 0.02 * 0.02;
  g.registration(3, 3) = 1e-8;
  const DeviationRegion r = conformity::judge(s, g, {}).regions.at(0);
  REQUIRE(r.on_remainder);
  CHECK(r.mean_U_common < 1e-9);
}

TEST_CASE("The histogram holds all of the area") {
  const Verdict v = tilted_with_bump(0.008, 1);
  double sum = 0;
  for (const auto& [x, w] : v.histogram) sum += w;
  CHECK(sum == Approx(1));
  CHECK(v.histogram.size() < 110);
}
