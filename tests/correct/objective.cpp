// What shims are chosen for: area out of tolerance, then the lead (design §8), against brute force by public functions.
#include <catch2/catch.hpp>
#include <cmath>

#include "correct/shims.hpp"
#include "correct/state.hpp"
#include "plate_case.hpp"

using namespace gapfront;

namespace {

CorrectOptions four_stations(double present, std::vector<double> stock, int pieces) {
  CorrectOptions o;
  o.stations = {{"A", Vec3(-140, -110, 0), present},
                {"B", Vec3(140, -115, 0), present},
                {"C", Vec3(135, 110, 0), present},
                {"D", Vec3(-140, 115, 0), present}};
  o.stock = std::move(stock), o.max_pieces = pieces;
  return o;
}

/// Every combination of the stock: changes per station.
std::vector<std::vector<double>> all_changes(const CorrectOptions& o) {
  const auto levels = correct::reachable_stacks(o);
  std::vector<std::vector<double>> out{{}};
  for (const Station& s : o.stations) {
    std::vector<std::vector<double>> longer;
    for (const auto& head : out)
      for (const auto& l : levels) longer.push_back(head), longer.back().push_back(l.total - s.present);
    out = std::move(longer);
  }
  return out;
}

struct Judged {
  double out = 0, rms = 0;  ///< shares by the rule of decide(), provably out counted twice; mm
};
Judged judged(const plate::Case& c, const CorrectOptions& o, const std::vector<double>& change) {
  const auto effect = correct::shim_effect(c.sheet, c.gap, o.stations, change);
  const double low = c.tolerance.nominal - c.tolerance.minus, high = c.tolerance.nominal + c.tolerance.plus;
  Judged j;
  double area = 0;
  for (std::size_t i = 0; i < c.sheet.size(); ++i) {
    const double gap = c.gap.nodes[i].gap + effect[i], a = c.sheet.area[i];
    area += a, j.rms += a * std::pow(gap - c.tolerance.nominal, 2);
    if (gap < low || gap > high)
      j.out += conformity::decide(gap, {low, high}, c.gap.nodes[i].U) == Conformity::nonconforming ? 2 * a : a;
  }
  return {j.out / area, std::sqrt(j.rms / area)};
}

double front(const plate::Case& c, const CorrectOptions& o, const std::vector<double>& change) {
  const auto effect = correct::shim_effect(c.sheet, c.gap, o.stations, change);
  std::vector<double> gap;
  for (std::size_t i = 0; i < c.sheet.size(); ++i) gap.push_back(c.gap.nodes[i].gap + effect[i]);
  const Filling f = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, gap, c.laminate), c.flow);
  return flow::compare_fillings(c.sheet, c.nominal, f).rms_s / c.nominal.fill_time;
}

std::optional<correct::ShimChoice> choose(const plate::Case& c, const CorrectOptions& o,
                                          const correct::FrontOf& front = {}, std::size_t most = correct::kFronts) {
  return correct::choose_shims(c.sheet, c.gap, conformity::tolerance_limits(c.sheet, c.tolerance), c.verdict.deviation,
                               conformity::fit_rigid_part(c.sheet, c.gap, c.verdict.deviation), o, front, most);
}

}  // namespace

// A third of the plate stands 0.35 mm too close, the rest 0.25 mm too wide: no seating cures both. Least squares goes
// between; the area wants the two thirds in.
TEST_CASE("Where least squares would leave more area out, the stacks are those that leave the least out") {
  const plate::Case c([](const Vec3& p) { return p.x() < -45 ? 2.65 : 3.25; });
  const CorrectOptions o = four_stations(0.4, {0.1, 0.25}, 2);  // 0, 0.1, 0.2, 0.25, 0.35, 0.5
  ToleranceOptions tight = c.tolerance;
  tight.plus = tight.minus = 0.12;
  plate::Case narrow = c;
  narrow.tolerance = tight, narrow.verdict = conformity::judge(c.sheet, c.gap, tight);
  Judged min_area{1e9, 1e9}, min_rms{1e9, 1e9};
  for (const auto& change : all_changes(o)) {
    const Judged j = judged(narrow, o, change);
    if (j.out < min_area.out) min_area = j;
    if (j.rms < min_rms.rms) min_rms = j;
  }
  REQUIRE(min_rms.out > min_area.out + 0.1);
  const auto choice = choose(narrow, o);
  REQUIRE(choice);
  CHECK(choice->proven);
  CHECK(judged(narrow, o, choice->change).out == Approx(min_area.out).margin(1e-3));  // the step that counts
}

// A dome: too wide over the vent, too close at the rim, all of it within a wide tolerance. Then every combination that
// keeps it so ties in area, and the lead decides; the rim, which all the resin passes, counts for more than its area.
TEST_CASE("Of the stacks that tie in area those with the least lead are taken, as by brute force") {
  plate::Case c([](const Vec3& p) { return 2.9 + 0.001 * p.x() + 0.3 * plate::bump(p, Vec3::Zero(), 110); });
  c.tolerance.plus = c.tolerance.minus = 0.35;
  const CorrectOptions o = four_stations(0.1, {0.1}, 2);
  double minimum = 1e9, of_min_rms = 1e9, rms = 1e9;
  int ties = 0;
  for (const auto& change : all_changes(o)) {
    const Judged j = judged(c, o, change);
    if (j.out > 0) continue;
    const double lead = front(c, o, change);
    ++ties, minimum = std::min(minimum, lead);
    if (j.rms < rms) rms = j.rms, of_min_rms = lead;
  }
  CAPTURE(ties, minimum, of_min_rms);
  REQUIRE(ties > 6);
  REQUIRE(of_min_rms > minimum + 5e-3);
  const correct::Seating seating = correct::seat(c.sheet, c.gap, o.stations);
  const correct::FrontOf by_plane = [&](const Vec3& plane) {
    std::vector<double> gap;
    for (std::size_t i = 0; i < c.sheet.size(); ++i)
      gap.push_back(c.gap.nodes[i].gap + seating.row(c.sheet.mesh.points[i], c.gap.nodes[i].direction).dot(plane));
    const Filling f = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, gap, c.laminate), c.flow);
    return flow::compare_fillings(c.sheet, c.nominal, f).rms_s / c.nominal.fill_time;
  };
  const auto all = choose(c, o, by_plane, 1000);
  REQUIRE(all);
  CHECK(all->proven);
  CHECK(front(c, o, all->change) == Approx(minimum).margin(1e-3));
  // With few fillings: never worse than least squares, and what is taken is the best of those looked at.
  const auto few = choose(c, o, by_plane);
  REQUIRE(few);
  REQUIRE(few->tied.size() == correct::kFronts);
  CHECK(few->tied[few->taken] <= few->tied[0]);
  CHECK(front(c, o, few->change) == Approx(few->tied[few->taken]));
  const auto none = choose(c, o);
  CHECK(front(c, o, none->change) == Approx(few->tied[0]));
}

TEST_CASE("Steps are computed with the gap that fillings assume where none was measured, as the tool as it is") {
  plate::Case c([](const Vec3&) { return 3.4; });
  for (std::size_t i = 0; i < c.sheet.size(); ++i)
    if ((c.sheet.mesh.points[i] - Vec3(50, 20, 0)).norm() < 25) c.gap.nodes[i].measured = false;
  c.gap.assumed = cavity::assume_gap(c.sheet, c.gap, c.verdict.nominal);
  const CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  const correct::Bench bench(in);
  for (const double gap : bench.gap(bench.now())) CHECK(gap == Approx(3.4).margin(1e-6));
}
