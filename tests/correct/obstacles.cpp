// What no work on the gap can cure, and what counts as cured.
#include <catch2/catch.hpp>

#include <cmath>
#include "gapfront/text.hpp"

#include "correct/state.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;

namespace {

/// The case filled anew after a change of glass or ports.
void refill(Case& c) {
  std::vector<double> now;
  for (const auto& n : c.gap.nodes) now.push_back(n.gap);
  c.nominal = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), c.flow);
  c.measured = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, now, c.laminate), c.flow);
  c.lead = flow::compare_fillings(c.sheet, c.nominal, c.measured);
}

bool offers(const CorrectionPlan& p, Kind k) {
  return std::any_of(p.candidates.begin(), p.candidates.end(), [&](const auto& c) { return c.kind == k; });
}
bool chooses(const CorrectionPlan& p, Kind k) {
  return std::any_of(p.chosen.begin(), p.chosen.end(), [&](int i) { return p.candidates[i].kind == k; });
}
bool leaves(const CorrectionPlan& p, Uncured u) { return std::count(p.not_cured.begin(), p.not_cured.end(), u) > 0; }

}  // namespace

TEST_CASE("A stack that cannot fill the section is the headline, and glass comes before work on the face") {
  Case c([](const Vec3& p) { return 3 + plate::low(p); });
  c.laminate.plies[0].count = 1;  // 1.65 mm of mat in a gap of 3 mm
  refill(c);
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::stack_cannot_fill);
  CHECK_THAT(say(plan.obstacle_says), Catch::StartsWith("The glass cannot fill the section"));
  REQUIRE_FALSE(plan.chosen.empty());
  const Kind first = plan.candidates[plan.chosen[0]].kind;
  CHECK((first == Kind::filling_ply || first == Kind::other_stack));
  CHECK(plan.after.under_filled_area < 0.05 * plan.now.under_filled_area);
}

TEST_CASE("Where no glass suits the section nothing is built up, and the plan says why") {
  Case c([](const Vec3& p) { return 3 + plate::low(p); });
  c.laminate.plies[0].reinforcement.loft =
      0.4;  // four plies, the most that are tried, still leave half of the gap open
  refill(c);
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::stack_cannot_fill);
  CHECK_FALSE(offers(plan, Kind::build_up));
  CHECK_FALSE(plan.not_cured.empty());
  REQUIRE(plan.left.size() == 1);
  CHECK_THAT(say(plan.left[0]), Catch::EndsWith("first the glass must suit the section."));
}

TEST_CASE("Glass that holds the mold open by itself is the headline, and another stack is proposed") {
  Case c([](const Vec3&) { return 3.0; });
  c.laminate.plies[0].count = 8;  // Vf 0.47: (0.47/0.03)^5 = 950 kPa on 432 cm² is 41 kN, against 12 kN
  refill(c);
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::reinforcement_holds_open);
  CHECK_FALSE(offers(plan, Kind::build_up));
  CHECK_FALSE(offers(plan, Kind::relief));
  CHECK(chooses(plan, Kind::other_stack));
  CHECK(flow::close_mold(c.sheet, plan.gap_after, plan.laminate_after, plan.flow_after).closes());
  CHECK(plan.after.over_packed_area == 0);
}

TEST_CASE("An overlap that over-packs the glass is butted") {
  Case c([](const Vec3&) { return 3.0; });
  LaminateZone zone;
  zone.name = "seam", zone.adds = true, zone.plies = c.laminate.plies;
  zone.plies[0].count = 4;  // six plies of 450 g/m²: Vf 0.35 takes 225 kPa, four times the clamping
  zone.where.box = {Vec3(-60, -100, -5), Vec3(-30, 100, 5)};
  c.laminate.zones = {zone};
  refill(c);
  const CorrectionPlan plan = c.plan();
  REQUIRE(plan.now.over_packed_area > 0);
  REQUIRE(chooses(plan, Kind::overlap_cut));
  CHECK(plan.after.over_packed_area == 0);
  CHECK(plan.laminate_after.zones.empty());
  CHECK_FALSE(leaves(plan, Uncured::over_packed));
}

// Filled from its rim to a vent in a corner the plate ends in its middle, where no vent is.
TEST_CASE("A layout that traps air in a true mold is said first, and a vent is found where the last air is") {
  Case c([](const Vec3&) { return 3.0; });
  c.flow.vents[0].path = {Vec3(-80, -50, 0)};
  refill(c);
  REQUIRE_FALSE(c.nominal.pockets.empty());
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::layout_traps_air);
  CHECK_THAT(say(plan.obstacle_says), Catch::StartsWith("A nominal mold traps air as well"));
  REQUIRE((chooses(plan, Kind::vent_add) || chooses(plan, Kind::vent_move)));
  CHECK(plan.after.dry_area == 0);
  const Correction& k = plan.candidates[plan.chosen[0]];
  CHECK(k.port_to.front().norm() < 20);  // the middle, to two cells
}

TEST_CASE("A mold that opens is never called cured, and the plan says by how much") {
  Case c([](const Vec3& p) { return 3 + plate::low(p); });
  c.flow.closing = {};
  refill(c);
  const CorrectionPlan plan = c.plan();
  CHECK(plan.after.out_of_tolerance_area == 0);
  CHECK(leaves(plan, Uncured::opening));
  CHECK_THAT(say(plan.remains), Catch::Contains("The mold opens: the closing force is 0.00 times"));
  CHECK_THAT(say(plan.remains), !Catch::StartsWith("Nothing"));
}

TEST_CASE("A fill longer than the gel time is not cured") {
  Case c([](const Vec3&) { return 3.0; });
  c.flow.gel_time = 0.5 * c.nominal.fill_time;
  const CorrectionPlan plan = c.plan();
  CHECK(leaves(plan, Uncured::gel));
  CHECK_THAT(say(plan.remains), Catch::Contains("the resin gels after"));
}

TEST_CASE("Resin that gels in a nominal mold comes before work on the gap, which such a front tells nothing of") {
  Case c([](const Vec3& p) { return 3 + plate::low(p); });
  c.flow.ageing = flow::rise_to_gel(0.2 * c.nominal.fill_time, 0.4 * c.nominal.fill_time);
  refill(c);
  REQUIRE(std::isfinite(c.nominal.supply.gelled_at));
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::resin_gels_first);
  CHECK_THAT(say(plan.obstacle_says), Catch::StartsWith("The resin gels after"));
  CHECK(plan.chosen.empty());
  CHECK_FALSE(offers(plan, Kind::build_up));
  CHECK_FALSE(offers(plan, Kind::vent_add));  // no vent helps a front that stops
  CHECK_THAT(say(plan.remains), Catch::Contains("the resin gels before a nominal mold is full"));
  REQUIRE(plan.left.size() == 1);
  CHECK_THAT(say(plan.left[0]), Catch::EndsWith("first the resin must fill a nominal mold."));
}

TEST_CASE(
    "Where an inlet more fills a nominal mold before the resin gels, it comes first, and the gap is worked then") {
  Case c([](const Vec3& p) { return 3 + plate::low(p); });
  // The vent all along the other end: neither inlet shuts air in.
  c.flow.inlets = {{"left", false, {Vec3(-120, 0, 0)}, 5}};
  c.flow.vents[0].path = {Vec3(120, -90, 0), Vec3(120, 90, 0)};
  refill(c);
  c.flow.ageing = flow::rise_to_gel(0.4 * c.nominal.fill_time, 0.7 * c.nominal.fill_time);
  refill(c);
  REQUIRE(std::isfinite(c.nominal.supply.gelled_at));
  REQUIRE(c.nominal.supply.left_dry > 0);
  ProcessAdvice advice;
  ProcessChange second;
  second.kind = ProcessChange::Kind::second_inlet, second.at = Vec3(-20, 0, 0);
  advice.to_be_in_time = {second};
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  in.advice = &advice;
  const CorrectionPlan plan = correct::plan_corrections(in, c.options);
  CHECK(plan.obstacle == Obstacle::resin_gels_first);
  REQUIRE_FALSE(plan.chosen.empty());
  CHECK(plan.candidates[plan.chosen[0]].kind == Kind::inlet_add);
  CHECK(offers(plan, Kind::build_up));
  CHECK(std::count_if(plan.candidates.begin(), plan.candidates.end(), [&](const Correction& k) {
          return k.kind == Kind::inlet_add && (k.port_to.front() - second.at).norm() < 1;
        }) == 1);
}

TEST_CASE("Where only a nominal mold gels first, it is said that the gap put right would do so too") {
  Case c([](const Vec3&) { return 3.6; });
  const double full = c.nominal.fill_time;
  for (double gel = 0.4; gel < 3; gel *= 1.05) {  // the first with which the wide gap fills
    c.flow.ageing = flow::rise_to_gel(0.5 * gel * full, gel * full);
    refill(c);
    if (!std::isfinite(c.measured.supply.gelled_at)) break;
  }
  REQUIRE(std::isfinite(c.nominal.supply.gelled_at));
  REQUIRE_FALSE(std::isfinite(c.measured.supply.gelled_at));
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::resin_gels_first);
  CHECK(plan.chosen.empty());
  CHECK_THAT(say(plan.remains), Catch::Contains("with the gap put right the resin would gel"));
}

TEST_CASE("Shims that would cure the gap and are refused for what else they do are named with the reason") {
  Case c([](const Vec3&) { return 3.6; });
  REQUIRE(c.measured.fill_time < 0.9 * c.nominal.fill_time);
  c.flow.gel_time = 0.5 * (c.measured.fill_time + c.nominal.fill_time);
  const CorrectionPlan plan = c.plan();
  REQUIRE(offers(plan, Kind::shim));
  CHECK_FALSE(chooses(plan, Kind::shim));
  const auto said =
      std::find_if(plan.left.begin(), plan.left.end(), [](const Message& m) { return m.id == "work.shims-left"; });
  REQUIRE(said != plan.left.end());
  CHECK_THAT(say(*said), Catch::EndsWith("with it the resin would gel before the mold is full."));
}

TEST_CASE("Zones whose glass is too thin are named with their area, each place in one") {
  Case c([](const Vec3&) { return 3.0; });
  LaminateZone thin;
  thin.plies = c.laminate.plies, thin.plies[0].count = 1;
  thin.name = "west", thin.where.box = {Vec3(-130, -100, -5), Vec3(-30, 100, 5)};
  c.laminate.zones = {thin};
  thin.name = "end", thin.where.box = {Vec3(-130, -100, -5), Vec3(-80, 100, 5)};
  c.laminate.zones.push_back(thin);
  refill(c);
  const CorrectionPlan plan = c.plan();
  CHECK(plan.obstacle == Obstacle::stack_cannot_fill);
  const std::string said = say(plan.obstacle_says);
  CHECK_THAT(said, Catch::Contains("in the zone \"west\"") && Catch::Contains("in the zone \"end\""));
  CHECK_THAT(said, !Catch::Contains("outside of the zones"));
}

TEST_CASE("Worse is what exceeds the uncertainty of the comparison") {
  CureLimits l;
  Effect a, b;
  CHECK_FALSE(correct::worse(a, b, l));
  b.out_of_tolerance_area = 1;
  CHECK(correct::worse(a, b, l) == Uncured::tolerance);
  b = a, a.closing_balance = 9, b.closing_balance = 2;  // both more than wanted
  CHECK_FALSE(correct::worse(a, b, l));
  b.closing_balance = 1.1;
  CHECK(correct::worse(a, b, l) == Uncured::opening);
  // Pairs: three draws of twenty are drier by 100 mm², one is wetter: mean 10, standard error 10.
  a = b = {};
  a.drawn.resize(20), b.drawn.resize(20);
  for (int k = 0; k < 3; ++k) b.drawn[k].dry_area = 100;
  a.drawn[3].dry_area = 100;
  CHECK_FALSE(correct::worse(a, b, l));
  for (auto& d : b.drawn) d.dry_area += 30;
  CHECK(correct::worse(a, b, l) == Uncured::dry_area);
}

TEST_CASE("What leaves more of a part empty when the resin gels is worse, but for a mold that opens without it") {
  CureLimits l;
  Effect a, b;
  a.gel_fraction = 1.2, a.dry_area = 1000, a.closing_balance = 2;
  b = a, b.gel_fraction = 1.4, b.dry_area = 3000;
  CHECK(correct::worse(a, b, l) == Uncured::gel);
  a.closing_balance = 0.8, b.closing_balance = 1.3;
  CHECK_FALSE(correct::worse(a, b, l));
  a.gel_fraction = 0.9, a.dry_area = 0;  // a part that would have been full
  CHECK(correct::worse(a, b, l) == Uncured::gel);
  b.gel_fraction = 0.95;
  CHECK(correct::worse(a, b, l) == Uncured::dry_area);
}

TEST_CASE("Dry area that is too small to count as trapped air makes nothing worse") {
  CureLimits l;
  l.dry_area = 200;
  Effect a, b;
  a.drawn.resize(20), b.drawn.resize(20);
  for (int k = 0; k < 20; ++k) a.drawn[k].dry_area = 100, b.drawn[k].dry_area = 180 + k;
  CHECK_FALSE(correct::worse(a, b, l));
  for (int k = 0; k < 8; ++k) b.drawn[k].dry_area = 250;
  CHECK(correct::worse(a, b, l) == Uncured::dry_area);
}

TEST_CASE("Trapping air more often is worse, though less stays dry in the mean") {
  const CureLimits l;
  Effect a, b;
  a.drawn.resize(20), b.drawn.resize(20);
  a.drawn[0] = {.dry_area = 9000, .pocket = true};
  const auto pockets = [&](int n) {
    for (int k = 1; k <= n; ++k) b.drawn[k] = {.dry_area = 250, .pocket = true};
    return correct::worse(a, b, l);
  };
  CHECK_FALSE(pockets(5));  // five made, one cleared: 4 < 2√6
  CHECK(pockets(8) == Uncured::dry_area);
}

TEST_CASE("No work is ordered where the scan did not see the face") {
  Case c([](const Vec3& p) { return 3 + plate::low(p); });
  c.sheet.covered.assign(c.sheet.size(), 1);
  for (std::size_t i = 0; i < c.sheet.size(); ++i)
    if (c.sheet.mesh.points[i].x() > 60) c.sheet.covered[i] = 0, c.gap.nodes[i].measured = false;
  c.verdict = conformity::judge(c.sheet, c.gap, c.tolerance);
  const CorrectionPlan plan = c.plan();
  int worked = 0;
  for (const auto& k : plan.candidates)
    for (std::size_t i = 0; i < k.gap_change.size(); ++i) {
      if (k.kind != Kind::build_up) continue;
      if (!c.sheet.covered[i]) CHECK(k.gap_change[i] == 0);
      worked += k.gap_change[i] != 0;
    }
  CHECK(worked > 0);
}
