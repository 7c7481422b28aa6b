// Scans that are warped, or stepped between their passes: does U hold? GAPFRONT_LONG_ERRORS=200 counts over many scans.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdlib>

#include "../align/support.hpp"
#include "../shared_errors.hpp"
#include "core/area_mean.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/instrument.hpp"
#include "gapfront/rigid_part.hpp"
#include "gapfront/steps.hpp"

using namespace gapfront;

namespace {

constexpr double kHalfX = 200, kHalfY = 150, kNoise = 0.005, kSpacing = 8;

int scans_drawn() {
  const char* n = std::getenv("GAPFRONT_LONG_ERRORS");
  return n ? std::atoi(n) : 5;
}

/// One scan's displacement.
struct Bend {
  std::vector<support::SharedErrors> warp;  // per coordinate
  std::vector<Vec3> pass;                   // per strip along y
  double width = 0, start = 0, angle = 0;
  Vec3 at(const Vec3& p) const {
    Vec3 out = Vec3::Zero();
    for (std::size_t c = 0; c < warp.size(); ++c) out[c] += warp[c].at(p);
    if (width > 0) {
      const double along = std::cos(angle) * p.x() + std::sin(angle) * p.y();
      out += pass[std::size_t(std::floor((along + 400 + start) / width))];
    }
    return out;
  }
};

struct BentTruth {
  double warp = 0, warp_length = 250;  // standard deviation per coordinate
  double step = 0, width = 130;        // bound; each pass lies off by a normal draw of step/√6 per coordinate
};

Bend bend_of(const BentTruth& t, support::Random& random) {
  Bend b;
  for (int c = 0; c < 3 && t.warp > 0; ++c) b.warp.emplace_back(t.warp, t.warp_length, random);
  if (t.step > 0) {
    b.width = t.width, b.start = random.uniform(0, t.width), b.angle = random.uniform(0, M_PI);
    for (int k = 0; k < 12; ++k) b.pass.push_back(t.step / std::sqrt(6.0) * random.vector());
  }
  return b;
}

const std::vector<Vec3>& ball_places() {
  static const std::vector<Vec3> places{{-190, -140, 20}, {0, -145, 25}, {190, -135, 20},
                                        {190, 140, 22},   {0, 145, 20},  {-190, 135, 25}};
  return places;
}

double flat(double, double) { return 0; }

/// Flat under the sheet and for some spacings beside it, with waves all round that hold it in its nominal place.
constexpr double kRim = 60;
double wavy_rim(double x, double y) {
  const double out = std::clamp(std::max((std::abs(x) - kHalfX) / 25, (std::abs(y) - kHalfY) / 25), 0.0, 1.0);
  return out * out * (3 - 2 * out) * (7 * std::sin(x / 23) + 6 * std::cos(y / 19 + 1) + 4 * std::sin((x + y) / 31));
}

using Shape = double (*)(double, double);

Scan bent_scan(double height, const Bend& bend, support::Random& random, Shape shape = flat) {
  std::vector<Vec3> exact;
  Scan out;
  const double rim = shape == flat ? 0 : kRim;
  for (double gx = -kHalfX - rim; gx <= kHalfX + rim; gx += kSpacing)
    for (double gy = -kHalfY - rim; gy <= kHalfY + rim; gy += kSpacing) {
      const double x = gx + random.gauss(), y = gy + random.gauss();
      exact.push_back(Vec3(x, y, height + shape(x, y) + kNoise * random.gauss()));
    }
  for (const Vec3& p : ball_places()) support::add_ball(exact, p, 10, 0.0, 200, kNoise, random);
  for (const Vec3& p : exact) out.cloud.points.push_back(p + bend.at(p));
  return out;
}

struct Counts {
  int inside = 0, places = 0;             // nodes
  int means = 0, offsets = 0, tilts = 0;  // whole-sheet mean, and rigid part, of scans
  int scans = 0, told = 0, stepped = 0;   // told: by the targets; stepped: halves whose face shows steps
  double U = 0, error2 = 0;
  std::vector<double> by_scan;  // share of places
  double share() const { return double(inside) / places; }
  /// Half of its 95 % interval: by what scans differ, for the places of one scan err together.
  double share_U() const {
    double squares = 0;
    for (const double s : by_scan) squares += (s - share()) * (s - share());
    return 1.96 * std::sqrt(squares / (double(by_scan.size()) - 1) / double(by_scan.size()));
  }
};

void look_at(const Sheet& sheet, const GapMap& map, Counts& c) {
  std::vector<double> deviation(sheet.size(), NAN);
  std::vector<int> all;
  double mean = 0;
  const Counts before = c;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!map.nodes[i].measured) continue;
    deviation[i] = map.nodes[i].gap - 3, all.push_back(int(i));
    ++c.places, c.inside += std::abs(deviation[i]) < map.nodes[i].U;
    c.U += map.nodes[i].U, c.error2 += deviation[i] * deviation[i];
  }
  c.by_scan.push_back(double(c.inside - before.inside) / (c.places - before.places));
  const auto h = mean_weights(sheet, map, all);
  for (const int i : all) mean += h[i] * deviation[i];
  c.means += std::abs(mean) < 2 * sum_errors(sheet, map, shared_fits(sheet, map), h).u();
  const RigidPart part = conformity::fit_rigid_part(sheet, map, deviation);
  c.offsets += std::abs(part.offset) < part.offset_U;
  c.tilts += std::abs(part.tilt.x()) < part.tilt_U.x();
}

/// As an inspection does: what is declared, and steps that the scan shows beyond it.
ScanErrors errors_of(const Scan& scan, const InstrumentModel& declared, Counts& c) {
  const StepsSeen seen = scan::find_steps(scan.cloud.points, kSpacing);
  c.stepped += seen.lines > 0;
  return scan::errors_of(scan::with_steps(declared, seen, 2 * kHalfX), 2 * kHalfX, kNoise);
}

Mesh nominal_face(double height, Shape shape) {
  Mesh m;
  const double side = 4;
  const int nx = int(2 * (kHalfX + kRim) / side) + 1, ny = int(2 * (kHalfY + kRim) / side) + 1;
  for (int i = 0; i < nx; ++i)
    for (int j = 0; j < ny; ++j) {
      const double x = -kHalfX - kRim + side * i, y = -kHalfY - kRim + side * j;
      m.points.push_back(Vec3(x, y, height + shape(x, y)));
      if (i == 0 || j == 0) continue;
      const int a = (i - 1) * ny + j - 1;
      m.triangles.push_back({a, a + ny, a + ny + 1}), m.triangles.push_back({a, a + ny + 1, a + 1});
    }
  return m;
}

AlignOptions by_balls() {
  AlignOptions options;
  for (std::size_t k = 0; k < ball_places().size(); ++k)
    options.targets.push_back(
        support::ball_target("B" + std::to_string(k + 1), 20, ball_places()[k], ball_places()[k]));
  return options;
}

AlignOptions on_nominal_rim() {
  AlignOptions options;
  options.methods = {AlignMethod::nominal};
  options.nominal_lower = nominal_face(0, wavy_rim), options.nominal_upper = nominal_face(3, wavy_rim);
  const auto datum = [&](double x0, double x1, double y0, double y1) {
    options.datum.push_back(
        Region{.polygon = {{x0, y0, 0}, {x1, y0, 0}, {x1, y1, 0}, {x0, y1, 0}}, .box = {}, .path = {}});
  };
  const double x = kHalfX + kRim + 5, y = kHalfY + kRim + 5;
  datum(-x, -kHalfX, -y, y), datum(kHalfX, x, -y, y);
  datum(-kHalfX, kHalfX, -y, -kHalfY), datum(-kHalfX, kHalfX, kHalfY, y);
  return options;
}

Counts count(const BentTruth& truth, const InstrumentModel& declared, unsigned seed, AlignOptions options = by_balls(),
             Shape shape = flat) {
  support::Random random(seed);
  const Sheet sheet = support::flat_sheet();
  Counts c;
  GapOptions gap;
  gap.u_instrument = 0;
  for (c.scans = 0; c.scans < scans_drawn(); ++c.scans) {
    const Bend low = bend_of(truth, random), high = bend_of(truth, random);
    Scan lower = bent_scan(0, low, random, shape), upper = bent_scan(3, high, random, shape);
    options.lower_errors = errors_of(lower, declared, c), options.upper_errors = errors_of(upper, declared, c);
    const Alignment a = align::register_halves(lower, upper, options, {kNoise, kNoise});
    c.told += a.fields_by_targets;
    const auto surface = [](const Scan& s, const ScanToTool& pose) {
      std::vector<Vec3> points;
      for (const Vec3& p : s.cloud.points) points.push_back(pose * ScanPlace{p});
      return Surface(std::move(points), {.spacing = kSpacing, .noise = kNoise});
    };
    look_at(sheet, cavity::measure_gap(sheet, surface(lower, a.lower_to_tool), surface(upper, a.upper_to_tool), a, gap),
            c);
  }
  return c;
}

void report(const char* what, const Counts& c) {
  WARN(what << ": U holds at " << 100 * c.share() << " +- " << 100 * c.share_U() << " % of " << c.places
            << " places in " << c.scans << " scans (mean U " << 1e3 * c.U / c.places << " um, RMS error "
            << 1e3 * std::sqrt(c.error2 / c.places) << " um); of the mean in " << c.means << ", offset " << c.offsets
            << ", tilt " << c.tilts << "; told by the targets in " << c.told << ", by the faces of " << c.stepped
            << " of " << 2 * c.scans);
}

// What the scans are drawn with, as a certificate would have it: see scan::errors_of.
InstrumentModel warp_declared(double sigma) {
  InstrumentModel m;
  m.per_metre = sigma * std::sqrt(6 * (1 - std::exp(-2.0))) / (2 * kHalfX) * 1000;
  return m;
}

InstrumentModel steps_declared(double step, double width) {
  InstrumentModel m;
  m.step = step, m.width = width;
  return m;
}

}  // namespace

TEST_CASE("U holds on warped scans whose warp is declared") {
  const Counts c = count({.warp = 0.015, .warp_length = 200}, warp_declared(0.015), 61);
  report("warp of 15 um declared", c);
  CHECK(c.share() > 0.85);
  CHECK(c.tilts > c.scans / 2);
}

TEST_CASE("U holds on scans stepped between their passes, with the step declared") {
  const Counts c = count({.step = 0.03}, steps_declared(0.03, 130), 62);
  report("steps of 30 um declared", c);
  CHECK(c.share() > 0.85);
}

TEST_CASE("U holds on warped scans that lie on their nominal surfaces") {
  const Counts c = count({.warp = 0.015, .warp_length = 200}, warp_declared(0.015), 67, on_nominal_rim(), wavy_rim);
  report("warp of 15 um declared, on nominal surfaces", c);
  CHECK(c.share() > 0.85);
  CHECK(c.tilts > c.scans / 2);
}

TEST_CASE("U holds on warped scans of which only the targets tell") {
  const Counts c = count({.warp = 0.015, .warp_length = 200}, {}, 63);
  report("warp of 15 um told by the targets", c);
  CHECK(c.share() > 0.85);
}

TEST_CASE("U holds on stepped scans whose steps nobody declares") {
  const Counts c = count({.step = 0.03}, {}, 64);
  report("steps of 30 um not declared", c);
  CHECK(c.share() > 0.93);
  CHECK(c.stepped > 1.5 * c.scans);
}

TEST_CASE("U holds on scans with larger steps than declared") {
  const Counts c = count({.step = 0.03}, steps_declared(0.006, 130), 65);
  report("steps of 30 um, 6 um declared", c);
  CHECK(c.share() > 0.93);
}

TEST_CASE("Even scans are not taken for bent ones") {
  const Counts c = count({}, {}, 66);
  report("no warp, no steps", c);
  CHECK(c.told <= 1);
  CHECK(c.stepped == 0);
}
