// What a better measurement would do is computed from the budget of the present one; here it is made as well.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "conformity/places.hpp"
#include "gapfront/error.hpp"
#include "gapfront/readings.hpp"
#include "gapfront/text.hpp"
#include "plate.hpp"

using namespace gapfront;

namespace {

using Way = BetterScan::Way;

/// 48 mm by 40 mm, nodes 4 mm apart.
Sheet plate_with_edges() {
  Sheet s = plate::sheet(48, 40, 4);
  s.edge_p50 = 4;
  return s;
}
const Sheet kPlate = plate_with_edges();
/// Tight enough that nothing is decided at the plate's gap, 3 mm.
ToleranceOptions within(double tolerance) {
  ToleranceOptions o;
  o.minus = o.plus = tolerance;
  return o;
}
const ToleranceOptions kTight = within(0.004);

/// A flat scan with points `spacing` apart, off their raster by a quarter of it, and 30 µm of noise; `poses` of them in
/// one, each displaced along the face.
Surface flat_scan(double z, double spacing, std::uint64_t seed, int poses = 1) {
  plate::Noise noise{seed};
  std::vector<Vec3> points;
  for (double shift = 0; shift < poses; ++shift)
    for (double x = -34 - 0.4 * shift; x <= 34; x += spacing)
      for (double y = -30 - 0.3 * shift; y <= 30; y += spacing)
        points.push_back({x + 0.5 * spacing * (noise.uniform() - 0.5), y + 0.5 * spacing * (noise.uniform() - 0.5),
                          z + 0.03 * noise()});
  return Surface(std::move(points), {.spacing = spacing / std::sqrt(poses), .noise = 0.03});
}

GapMap scanned_at(double spacing, const GapOptions& o, const Alignment& a) {
  return cavity::measure_gap(kPlate, flat_scan(0, spacing, 5), flat_scan(3, spacing, 6), a, o);
}

/// What readings at the places say of a gap of 3 mm, in the map that is off by `error`.
GapMap read_at(GapMap map, const std::vector<Vec3>& places, double error, std::uint64_t seed) {
  plate::Noise noise{seed};
  for (NodeGap& g : map.nodes) g.gap += error, g.along_normal += error;
  std::vector<SpotReading> readings;
  for (const Vec3& p : places) readings.push_back({"", p, 3 + 0.01 * noise(), 0.02});
  cavity::update_by_readings(kPlate, map, readings);
  return map;
}

/// Closed by so many point targets on a circle, each known to 30 µm in either half.
Alignment closed_by(int targets) {
  AlignOptions o;
  for (int k = 0; k < targets; ++k) {
    const double angle = 2 * M_PI * k / targets;
    const Vec3 at(60 * std::cos(angle), 45 * std::sin(angle), k % 2);
    Target t;
    t.name = "T" + std::to_string(k), t.lower = {at}, t.upper = {at}, t.u = 0.03;
    o.targets.push_back(t);
  }
  return align::register_halves({}, {}, o, {.lower = 0.02, .upper = 0.02});
}

/// U of the disc about the place, by a map of its own.
double U_at(const GapMap& map, const Vec3& at) {
  const auto limits = conformity::tolerance_limits(kPlate, kTight);
  const auto places = conformity::places_on(kPlate, map, limits, conformity::disc_across(kTight));
  const auto& p = kPlate.mesh.points;
  const auto nearest = std::min_element(p.begin(), p.end(), [&](const Vec3& a, const Vec3& b) {
    return (a - at).squaredNorm() < (b - at).squaredNorm();
  });
  return map.coverage * places.u[std::size_t(nearest - p.begin())];
}

BetterScan way_of(const GapMap& map, Way way) {
  for (const BetterScan& b : conformity::better_scans(kPlate, map, kTight))
    if (b.way == way) return b;
  return {};
}

/// The drop that was promised, and the one that came, as shares of U.
void check_drop(const GapMap& now, Way way, const GapMap& then) {
  const BetterScan b = way_of(now, way);
  REQUIRE(b.U > 0);
  const double promised = b.U - b.U_after, came = b.U - U_at(then, b.at);
  CAPTURE(b.U, b.U_after, U_at(then, b.at));
  CHECK(promised > 0.05 * b.U);
  CHECK(promised == Approx(came).epsilon(0.2));
}

}  // namespace

TEST_CASE(
    "Twice the targets, half the spacing and a halved error of the scanner bring the drop in U that was promised") {
  GapOptions plain;
  plain.u_instrument = 0.001;
  check_drop(scanned_at(1, plain, closed_by(5)), Way::targets, scanned_at(1, plain, closed_by(10)));
  // On a smooth face the mean over a disc leans on fits all over it: half the spacing does little, as is said.
  const GapMap coarse = scanned_at(1, plain, {}), fine = scanned_at(0.5, plain, {});
  const BetterScan points = way_of(coarse, Way::points);
  CHECK(points.U_after > 0.9 * points.U);
  CHECK(U_at(fine, points.at) > 0.9 * points.U);
  GapOptions declared, halved, warm;
  declared.u_instrument = 0.02, halved.u_instrument = 0.01;
  warm.u_temperature = 0.01, warm.u_instrument = 0.01;
  check_drop(scanned_at(1, declared, closed_by(5)), Way::instrument, scanned_at(1, halved, closed_by(5)));
  check_drop(scanned_at(1, warm, {}), Way::temperature, scanned_at(1, halved, {}));
}

TEST_CASE("Readings of the thickness, and each half in one more pose, bring the drop in U that was promised") {
  GapOptions o;
  o.u_instrument = 0.03;
  const GapMap now = scanned_at(1, o, closed_by(5));
  const BetterScan b = way_of(now, Way::readings);
  REQUIRE(b.read_at.size() == 3);
  CHECK((b.read_at[0] - b.at).norm() < 1e-9);
  for (int k = 0; k < 3; ++k) CHECK((b.read_at[k] - b.read_at[(k + 1) % 3]).norm() > 20);
  // The error of the map that the readings meet, of its own u.
  const double u = now.nodes.front().U / 2;
  for (const double error : {-u, 0.0, u}) check_drop(now, Way::readings, read_at(now, b.read_at, error, 7));

  // As half the spacing, a second scan does little for a mean on a smooth face, and so it is said.
  const GapMap once = scanned_at(1, {}, {});
  const GapMap twice = cavity::measure_gap(kPlate, flat_scan(0, 1, 5, 2), flat_scan(3, 1, 6, 2), {}, {});
  const BetterScan pose = way_of(once, Way::pose);
  CHECK(pose.U_after > 0.9 * pose.U);
  CHECK(U_at(twice, pose.at) == Approx(pose.U_after).epsilon(0.1));
}

TEST_CASE("The verdict names what would decide it, with its U, and says so where nothing does") {
  GapMap map = plate::gap(kPlate, 0.01, [](const Vec3&) { return 3.0; });
  for (NodeGap& n : map.nodes) n.u_temperature = 0.05, n.U = 2 * std::hypot(0.01, 0.05);
  // 0.05 mm from either limit: within 1.645 standard uncertainties of 0.05 mm, far beyond those that are left.
  const Verdict v = conformity::judge(kPlate, map, within(0.05));
  REQUIRE(v.overall == Conformity::undecided);
  const std::string said = say(in_sequence(v.would_change), {UnitSystem::mm});
  CHECK(said.find("Ways to decide it, the cheapest first: measure the temperature") != std::string::npos);
  CHECK(said.find("decides 100 %") != std::string::npos);
  CHECK(said.find("targets") == std::string::npos);
  const Verdict never = conformity::judge(kPlate, map, within(0.0001));
  CHECK(say(in_sequence(never.would_change), {UnitSystem::mm}).find("No better scan within reach") !=
        std::string::npos);
  CHECK(conformity::better_scans(kPlate, map, within(1)).empty());
}

TEST_CASE("What decides nothing is not named of a strip whose U would do but that is too short to be proven") {
  // A row of nodes is beyond the upper limit, long by its best estimate and proven only where it is shorter than the
  // disc; all means over discs are within.
  GapMap map = plate::gap(kPlate, 0.005, [](const Vec3& p) {
    const double along = std::abs(p.x());
    return std::abs(p.y()) > 1 || along > 18 ? 3.0 : along < 5 ? 3.34 : 3.31;
  });
  const Verdict v = conformity::judge(kPlate, map, within(0.3));
  REQUIRE(v.overall == Conformity::undecided);
  const std::string said = say(in_sequence(v.would_change), {UnitSystem::mm});
  CAPTURE(said);
  CHECK(said.find("temperature") == std::string::npos);
  CHECK(said.find("targets") == std::string::npos);
  for (const BetterScan& b : conformity::better_scans(kPlate, map, within(0.3)))
    if (b.way == Way::temperature || b.way == Way::targets) CHECK(b.decided == 0);
}
