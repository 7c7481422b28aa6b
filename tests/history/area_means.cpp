// The U of an area's mean, in all four uses, against synthetic scans with known truth that go through the real fits.
// The scans are made here, by a generator of their own: two plates 3 mm apart, one point per 2 × 2 mm at a random place
// in its cell, noise along the normal, a registration error by its covariance, one systematic error per scan.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <random>

#include "../flow/sheets.hpp"
#include "core/area_mean.hpp"
#include "gapfront/confirm.hpp"
#include "gapfront/recheck.hpp"

using namespace gapfront;

namespace {

constexpr double kMeanSpacing = 2, kMeanNoise = 0.03, kMeanInstrument = 0.01, kMeanShift = 3e-3, kMeanTurn = 3e-5;
constexpr double kBumpHeight = 0.3, kBumpRadius = 34;
const Vec3 kBumpAt(20, -10, 0);

double bump(const Vec3& p) {
  const double r2 = (p - kBumpAt).head<2>().squaredNorm() / (kBumpRadius * kBumpRadius);
  return r2 < 1 ? kBumpHeight * (1 - r2) * (1 - r2) : 0;
}

/// The middle 132 × 96 mm of the plates, clear of their edges; nodes closer than the fits reach. `shift` mm aside.
Sheet middle(double edge, double shift) {
  const int nx = int(132 / edge), ny = int(96 / edge);
  return cavity::make_sheet(
      test::grid(nx, ny, [&](double u, double v) { return Vec3(132 * u - 66 + shift, 96 * v - 48, 0); }).mesh);
}

template <class Height>
Surface plate_scan(std::mt19937_64& random, const Vec3& shift, const Vec3& turn, Height height) {
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  const double systematic = kMeanInstrument * normal(random);
  std::vector<Vec3> points;
  for (double x = -90; x < 90; x += kMeanSpacing)
    for (double y = -70; y < 70; y += kMeanSpacing) {
      Vec3 p(x + kMeanSpacing * uniform(random), y + kMeanSpacing * uniform(random), 0);
      p.z() = height(p) + systematic + kMeanNoise * normal(random);
      points.push_back(p + shift + turn.cross(p));
    }
  return Surface(points, {.spacing = kMeanSpacing, .noise = kMeanNoise});
}

template <class Height>
GapMap scanned_gap(std::mt19937_64& random, const Sheet& sheet, Height gap) {
  std::normal_distribution<double> normal;
  const auto three = [&](double u) { return Vec3(u * normal(random), u * normal(random), u * normal(random)); };
  Alignment a;
  a.covariance.diagonal() << Vec3::Constant(kMeanShift * kMeanShift), Vec3::Constant(kMeanTurn * kMeanTurn);
  const Surface low = plate_scan(random, Vec3::Zero(), Vec3::Zero(), [](const Vec3&) { return 0.0; });
  const Surface high = plate_scan(random, three(kMeanShift), three(kMeanTurn), gap);
  GapOptions o;
  o.u_instrument = kMeanInstrument;
  return cavity::measure_gap(sheet, low, high, a, o);
}

double mean_over(const Sheet& s, const std::vector<int>& nodes, const std::vector<double>& value) {
  double area = 0, sum = 0;
  for (const int i : nodes) area += s.area[i], sum += s.area[i] * value[i];
  return sum / area;
}

struct Hits {
  int of = 0, held = 0;
  double square = 0;  ///< Σ (error/u)²
  void add(double error, double U) { ++of, held += std::abs(error) <= U, square += std::pow(2 * error / U, 2); }
  double rms() const { return std::sqrt(square / of); }
};
struct FourUses {
  Hits whole, region, deviation, confirmed, seated, change;
};

FourUses four_uses(int draws, double edge) {
  const Sheet sheet = middle(edge, 0), moved = middle(edge, 0.37 * edge);
  std::vector<int> all;
  std::vector<double> deviation;
  for (int i = 0; i < int(sheet.size()); ++i) all.push_back(i), deviation.push_back(bump(sheet.mesh.points[i]));
  std::mt19937_64 random(16), seats(17);
  std::optional<FieldNull> null;
  FourUses out;
  for (int k = 0; k < draws; ++k) {
    const GapMap then = scanned_gap(random, sheet, [](const Vec3& p) { return 3 + bump(p); });
    std::vector<double> gap;
    for (const auto& n : then.nodes) gap.push_back(n.gap);
    // 1: the mean of the whole.
    out.whole.add(mean_over(sheet, all, gap) - 3 - mean_over(sheet, all, deviation),
                  conformity::mean_budget(sheet, then, all).U);
    // 2: the mean of a deviating region, over the nodes that were found.
    ToleranceOptions t;
    t.nominal = 3, t.minus = t.plus = 0.1;
    const Verdict v = conformity::judge(sheet, then, t);
    REQUIRE_FALSE(v.regions.empty());
    out.region.add(v.regions[0].mean - mean_over(sheet, v.regions[0].nodes, deviation), v.regions[0].mean_U);
    out.deviation.add(mean_over(sheet, v.regions[0].nodes, gap) - 3 - mean_over(sheet, v.regions[0].nodes, deviation),
                      conformity::mean_budget(sheet, then, v.regions[0].nodes).U);
    // 3: the wide place was filled; did it do what was predicted? Measured again on a sheet that lies otherwise.
    Prediction p;
    p.sheet = sheet, p.gap = then, p.before = gap;
    Correction fill;
    fill.kind = Kind::build_up, fill.name = "C1";
    for (std::size_t i = 0; i < gap.size(); ++i)
      fill.gap_change.push_back(-deviation[i]), p.after.push_back(gap[i] - deviation[i]);
    p.plan.candidates = {fill}, p.plan.chosen = {0};
    const auto flat = [](const Vec3&) { return 3.0; };
    const auto c = correct::confirm(p, moved, scanned_gap(random, moved, flat));
    out.confirmed.add(c.at(0).achieved - c.at(0).predicted, std::hypot(c.at(0).predicted_U, c.at(0).achieved_U));
    // The same with the upper half seated otherwise, which is taken out.
    const auto askew = [](const Vec3& q) { return 3.2 + 2e-3 * q.x() - 1e-3 * q.y(); };
    const auto apart = correct::confirm(p, moved, scanned_gap(seats, moved, askew)).at(0);
    REQUIRE(apart.seat > 0.1);
    out.seated.add(apart.achieved - apart.predicted, std::hypot(apart.predicted_U, apart.achieved_U));
    // 4: the same change seen by a re-check, with another scanner.
    std::vector<Record> records(2);
    records[0].gap = then, records[1].gap = scanned_gap(random, sheet, flat);
    records[1].cycles = 1000, records[0].instrument = "A", records[1].instrument = "B";
    for (Record& r : records) {
      r.date = "2026-01-01", r.arrival.assign(sheet.size(), 1), r.fill_time = 1;
      for (const Vec3& at : {Vec3(-90, -70, 0), Vec3(90, -70, 0), Vec3(90, 70, 0), Vec3(-90, 70, 0)})
        r.datums.push_back({"B" + std::to_string(r.datums.size()), at, at, 1e-4, 1e-4});
    }
    if (!null) null = history::field_null(sheet);
    const Recheck r = history::recheck(sheet, records, 1, 0, {}, *null);
    REQUIRE_FALSE(r.wear.empty());
    out.change.add(r.wear[0].mean + mean_over(sheet, r.wear[0].nodes, deviation), r.wear[0].mean_U);
  }
  return out;
}

void say(const char* use, const Hits& h) {
  WARN(use << ": " << h.held << " of " << h.of << " within U, error/u " << h.rms() << " in root mean square");
}

}  // namespace

// Counted once over 1,000 draws: see below. A hundred draws of 95 % hold 87 or fewer in 0.1 % of the cases, and the
// root mean square of error/u is known to 7 %; with means over-cautious by a third, or half as sure again, this fails.
TEST_CASE("The U of a mean holds the truth in its uses: whole, region, confirmation, re-check") {
  const char* more = std::getenv("GAPFRONT_DRAWS");
  const double edge = std::getenv("GAPFRONT_EDGE") ? std::atof(std::getenv("GAPFRONT_EDGE")) : 6;
  const FourUses all = four_uses(more ? std::atoi(more) : 100, edge);
  if (more)
    say("whole", all.whole), say("region", all.region), say("region, all its deviation", all.deviation),
        say("confirmation", all.confirmed), say("confirmation, the seat taken out", all.seated),
        say("re-check", all.change);
  for (const auto& [use, h] : {std::pair{"whole", all.whole},
                               {"region", all.region},
                               {"region, all its deviation", all.deviation},
                               {"confirmation", all.confirmed},
                               {"confirmation, the seat taken out", all.seated},
                               {"re-check", all.change}}) {
    CAPTURE(use, h.held, h.of, h.rms());
    CHECK(h.held >= 0.88 * h.of);
    CHECK(h.rms() > 0.7);  // the re-check errs to the safe side: 0.74 in these 100 draws
    CHECK(h.rms() < 1.25);
  }
}

// ∫K(x)K(x − d) of the fit's weights over the plane, by a plain sum on a grid: the table's values to its own grid's
// error.
TEST_CASE("Two fits are as alike as the overlap of their weights says") {
  const int n = 160;
  const double h = 2.0 / n, radius = 5, area = M_PI * radius * radius / 4.8;
  const auto K = [](double s) { return s < 1 ? (1 - 2 * s) * (1 - s) : 0; };
  const auto overlap = [&](double d) {
    double sum = 0;
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < n; ++j) {
        const double x = -1 + (i + 0.5) * h, y = -1 + (j + 0.5) * h;
        sum += K(x * x + y * y) * K((x - d) * (x - d) + y * y);
      }
    return sum;
  };
  const double whole = overlap(0);
  for (const double d : {0.1, 0.35, 0.5, 0.8, 1.1, 1.5, 1.9, 2.5})
    CHECK(fit_correlation(d * radius, area) == Approx(overlap(d) / whole).margin(0.01));
}

// Of a mean over a part much wider than a fit, u² is the fit's u² times its area over the part's; over one much smaller
// it is the fit's own.
TEST_CASE("A mean over many shared fits is as good as its area has points, over few no better than one fit") {
  const Sheet s = middle(2, 0);
  GapMap g;
  g.nodes.resize(s.size());
  for (auto& n : g.nodes) n.measured = true, n.u_lower = 0.02, n.fit_area = 60;
  std::vector<int> all, few;
  double area = 0;
  for (int i = 0; i < int(s.size()); ++i) {
    all.push_back(i), area += s.area[i];
    if (s.mesh.points[i].head<2>().norm() < 2.5) few.push_back(i);
  }
  // The rim's fits reach out over it here, so that there is a little more independent of the rest.
  CHECK(conformity::mean_budget(s, g, all).lower == Approx(0.02 * std::sqrt(60 / area)).epsilon(0.06));
  REQUIRE(few.size() > 3);
  CHECK(conformity::mean_budget(s, g, few).lower == Approx(0.02).epsilon(0.1));
}
