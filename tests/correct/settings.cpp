// Settings of pump, vacuum and resin as corrections.
#include <algorithm>
#include <catch2/catch.hpp>

#include "core/sheet_parts.hpp"
#include "correct/state.hpp"
#include "gapfront/text.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;

namespace {

CorrectInput input_of(const Case& c, const ProcessAdvice* advice) {
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  in.advice = advice;
  return in;
}

/// Filled again with its flow as it is now.
void refilled_true(Case& c) {
  c.nominal = c.measured =
      flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), c.flow);
  c.lead = flow::compare_fillings(c.sheet, c.nominal, c.measured);
}

ProcessAdvice advised(const Case& c) {
  return flow::advise_process(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), c.flow,
                              c.measured);
}

const Case& true_plate() {
  static const Case c([](const Vec3&) { return 3.0; }, false);
  return c;
}

std::vector<Kind> kinds_of(const std::vector<Correction>& list) {
  std::vector<Kind> out;
  for (const Correction& c : list) out.push_back(c.kind);
  return out;
}

/// The flow as it is once this is set.
FlowOptions set(const Case& c, const Correction& k) {
  std::vector<double> gap(c.sheet.size(), 0);
  LaminateOptions laminate = c.laminate;
  FlowOptions flow = c.flow;
  correct::apply(k, gap, laminate, flow);
  return flow;
}

ProcessAdvice by_hand() {
  using Change = ProcessChange::Kind;
  ProcessAdvice a;
  a.help.changes = {{Change::lower_limit, 8e4},
                    {Change::slower, 5e4},
                    {Change::cavity_vacuum, 0.8 * atmosphere_pa},
                    {Change::clamping, 3e9}};
  a.mode = PumpMode::rates, a.pressure_limit = 9e4, a.steps = {{0, 6e4}, {1e5, 3e4}};
  return a;
}

}  // namespace

TEST_CASE("Where the mold opens each setting that the advice found is a candidate, with what it sets") {
  const Case& c = true_plate();
  const ProcessAdvice a = by_hand();
  const CorrectInput in = input_of(c, &a);
  const correct::Bench bench(in);
  CureLimits limits;
  Effect opens;
  opens.closing_balance = 0.9 * limits.safety;
  CorrectOptions o;
  o.least_cavity_pressure = 0.1 * atmosphere_pa;
  const auto list = correct::setting_candidates(bench, o, opens, limits);
  REQUIRE(kinds_of(list) == std::vector{Kind::lower_limit, Kind::pump_steps, Kind::vacuum_level, Kind::pump_steps});
  for (const Correction& k : list) {
    CHECK(k.redesign);
    CHECK(k.face == "settings");
    CHECK(k.effort == 1);  // the table's hours: a trial part
    CHECK(k.gap_change.empty());
    REQUIRE(k.instruction.size() == 2);  // why, and what
    CHECK(k.instruction[0].id == "advice.mold-may-open-what");
  }
  CHECK(set(c, list[0]).pressure_limit == 8e4);
  REQUIRE(set(c, list[1]).schedule.size() == 1);
  CHECK(set(c, list[1]).schedule[0].rate == 5e4);
  CHECK(set(c, list[1]).pressure_limit == c.flow.pressure_limit);
  CHECK(set(c, list[2]).cavity_pressure == Approx(0.2 * atmosphere_pa));
  REQUIRE(set(c, list[3]).schedule.size() == 2);
  CHECK(set(c, list[3]).schedule[1].from == 1e5);
  CHECK(set(c, list[3]).pressure_limit == 9e4);

  // A limit that no gauge shows is set lower, never higher.
  ProcessAdvice uneven = a;
  uneven.pressure_limit = 90812;
  const CorrectInput between = input_of(c, &uneven);
  CHECK(correct::setting_candidates(correct::Bench(between), o, opens, limits).back().setting == Approx(9e4));

  // A vacuum deeper than the job allows, and advice that keeps no limit, are none; nor is any where nothing is wrong.
  o.least_cavity_pressure = 0.3 * atmosphere_pa;
  ProcessAdvice close = a;
  close.keeps_limits = false;
  const CorrectInput other = input_of(c, &close);
  CHECK(kinds_of(correct::setting_candidates(correct::Bench(other), o, opens, limits)) ==
        std::vector{Kind::lower_limit, Kind::pump_steps});
  CHECK(correct::setting_candidates(bench, o, Effect{}, limits).empty());
}

TEST_CASE("A deeper vacuum closes the mold harder, and presses on the glass by as much") {
  const Case& c = true_plate();
  Correction k;
  k.kind = Kind::vacuum_level, k.setting = 0.2 * atmosphere_pa;
  std::vector<double> gap(c.sheet.size(), 0);
  LaminateOptions laminate = c.laminate;
  FlowOptions flow = c.flow;
  correct::apply(k, gap, laminate, flow);
  const double more = c.flow.cavity_pressure - 0.2 * atmosphere_pa;
  CHECK(flow::clamping_over_face(c.sheet, flow) == Approx(flow::clamping_over_face(c.sheet, c.flow) + more));
  CHECK(laminate.clamping_pressure == Approx(c.laminate.clamping_pressure + more));
}

TEST_CASE("Resin may be warmed where the mold opens or the resin gels too soon, with the gel time that goes with it") {
  const Case& c = true_plate();
  const CorrectInput in = input_of(c, nullptr);
  const correct::Bench bench(in);
  CureLimits limits;
  Effect gels;
  gels.gel_fraction = 1.2;
  CorrectOptions o;
  CHECK(correct::setting_candidates(bench, o, gels, limits).empty());  // the job does not say that it may be
  o.warm_viscosity = 0.6 * c.flow.viscosity, o.warm_gel_time = 400;
  const auto list = correct::setting_candidates(bench, o, gels, limits);
  REQUIRE(kinds_of(list) == std::vector{Kind::resin_warmed});
  CHECK(set(c, list[0]).viscosity == Approx(0.6 * c.flow.viscosity));
  CHECK(set(c, list[0]).gel_time == 400);
  CHECK(list[0].effort == Approx(2 + 0.05 * counted_parts));
  o.warm_viscosity = 1.1 * c.flow.viscosity;  // that is no warmer
  CHECK(correct::setting_candidates(bench, o, gels, limits).empty());
  Case ages = c;
  ages.flow.ageing.rise = {{0, 1}, {600, 2}};  // how warm resin ages is not known
  o.warm_viscosity = 0.6 * c.flow.viscosity;
  const CorrectInput aged = input_of(ages, nullptr);
  CHECK(correct::setting_candidates(correct::Bench(aged), o, gels, limits).empty());
}

// Resin that flows at constant pressure fills in a time that goes with its viscosity: 0.6 of it, against a gel time of
// 0.8 and 0.7.
TEST_CASE("A mold that gels before it is full is cured by warm resin, unless that gels sooner still") {
  Case c = true_plate();
  c.flow.gel_time = 0.8 * c.nominal.fill_time;
  refilled_true(c);
  c.options.warm_viscosity = 0.6 * c.flow.viscosity, c.options.warm_gel_time = 0.7 * c.nominal.fill_time;
  const ProcessAdvice a = advised(c);
  const CorrectionPlan plan = correct::plan_corrections(input_of(c, &a), c.options);
  REQUIRE(plan.chosen.size() == 1);
  CHECK(plan.candidates[plan.chosen[0]].kind == Kind::resin_warmed);
  CHECK(plan.not_cured.empty());
  CHECK(plan.after.gel_fraction == Approx(0.6 / 0.7).epsilon(0.02));
  CHECK(plan.flow_after.viscosity == Approx(0.6 * c.flow.viscosity));
  c.options.warm_gel_time = 0.5 * c.nominal.fill_time;
  const CorrectionPlan sooner = correct::plan_corrections(input_of(c, &a), c.options);
  for (const int k : sooner.chosen) CHECK(sooner.candidates[k].kind != Kind::resin_warmed);
}

TEST_CASE("A part that gels before it is full is told what stays dry, and nothing is ordered that slows it") {
  Case c = true_plate();
  c.flow.gel_time = 0.5 * c.nominal.fill_time;
  refilled_true(c);
  const ProcessAdvice a = advised(c);
  const CorrectionPlan plan = correct::plan_corrections(input_of(c, &a), c.options);
  CHECK(plan.obstacle == Obstacle::resin_gels_first);
  CHECK(plan.now.dry_area > 0.1 * sheet_area(c.sheet));
  CHECK(plan.after.gel_fraction <= plan.now.gel_fraction);
  CHECK(plan.after.dry_area <= plan.now.dry_area);
  REQUIRE_FALSE(plan.remains.empty());
  CHECK(plan.remains[0].id.find("gel") != std::string::npos);
}

TEST_CASE("Where other work has changed a state its own settings are offered, not those of the tool as it is") {
  Case c = true_plate();
  c.flow.closing.force = 2e9;
  refilled_true(c);
  const ProcessAdvice a = by_hand();  // of some other state
  const CorrectInput in = input_of(c, &a);
  const correct::Bench bench(in);
  CureLimits limits;
  limits.safety = c.flow.closing.safety;
  const correct::State now = bench.now();
  const Effect effect = bench.effect(now, 0);
  REQUIRE(effect.closing_balance < limits.safety);
  const auto list = correct::setting_candidates(bench, c.options, effect, limits, {}, &now);
  REQUIRE_FALSE(list.empty());
  REQUIRE(list[0].kind == Kind::lower_limit);
  CHECK(list[0].setting != 8e4);
  CHECK(bench.effect(bench.with(now, list[0]), 0).closing_balance >= limits.safety * (1 - 1e-9));
}

// 2 kN of clamps and half a bar of vacuum against up to 1.2 bar of resin on 432 cm².
TEST_CASE("A mold that the resin opens is kept shut by a setting, and the filling with it says so too") {
  Case c = true_plate();
  c.flow.closing.force = 2e9;
  refilled_true(c);
  const ProcessAdvice a = advised(c);
  const CorrectionPlan plan = correct::plan_corrections(input_of(c, &a), c.options);
  REQUIRE(plan.now.closing_balance < c.flow.closing.safety);
  REQUIRE_FALSE(plan.chosen.empty());
  for (const int k : plan.chosen) {
    CAPTURE(to_string(plan.candidates[k].kind));
    CHECK((plan.candidates[k].kind == Kind::lower_limit || plan.candidates[k].kind == Kind::pump_steps));
  }
  CHECK(plan.not_cured.empty());
  CHECK(plan.flow_after.pressure_limit < c.flow.pressure_limit);
  const Filling again =
      flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, plan.gap_after, plan.laminate_after), plan.flow_after);
  CHECK(flow::least_balance(again.opening) == Approx(plan.after.closing_balance));
  CHECK(flow::least_balance(again.opening) >= c.flow.closing.safety * (1 - 1e-9));
}

TEST_CASE("A vent that the job closes too soon is left open before any hole is drilled") {
  Case c = true_plate();
  c.flow.vents[0].blocked_from = 0.3 * c.nominal.fill_time;
  refilled_true(c);
  REQUIRE(!c.measured.pockets.empty());
  CHECK(correct::closed_too_soon(c.measured, c.flow, 0));
  const CorrectionPlan plan = c.plan();
  REQUIRE(plan.chosen.size() == 1);
  const Correction& open = plan.candidates[plan.chosen[0]];
  CHECK(open.kind == Kind::vent_open);
  CHECK(open.port == "middle");
  CHECK(open.face == "settings");
  CHECK(plan.after.dry_area == 0);
  CHECK(std::isinf(plan.flow_after.vents[0].blocked_from));
  CHECK(std::none_of(plan.candidates.begin(), plan.candidates.end(),
                     [](const Correction& k) { return k.kind == Kind::vent_add || k.kind == Kind::vent_move; }));
  REQUIRE(plan.obstacle == Obstacle::layout_traps_air);
  CHECK(plan.obstacle_says.size() == 3);  // that the job closes it is said with it

  // Closed once resin has covered it, it lets nothing more through that it should.
  c.flow.vents[0].blocked_from = 1.5 * c.nominal.fill_time;
  refilled_true(c);
  CHECK_FALSE(correct::closed_too_soon(c.measured, c.flow, 0));
}

TEST_CASE("What resin leaves dry as it gels is told of the resin, whether its front stops or runs on") {
  for (const bool stops : {false, true}) {
    Case c = true_plate();
    c.flow.gel_time = 0.7 * c.measured.fill_time;
    if (stops) c.flow.ageing.gel = c.flow.gel_time;
    refilled_true(c);
    const CorrectInput in = input_of(c, nullptr);
    const Effect e = correct::Bench(in).effect(correct::Bench(in).now(), 0);
    CHECK(e.dry_area > 0);
    CHECK(e.gel_fraction > 1);
    CHECK(e.gel_fraction < 1 / 0.6);
    const CorrectionPlan plan = c.plan();
    CHECK(plan.obstacle == Obstacle::resin_gels_first);
    CHECK(std::count(plan.not_cured.begin(), plan.not_cured.end(), Uncured::gel) == 1);
    REQUIRE(!plan.remains.empty());
    CHECK((plan.remains[0].id == "remains.within-gel" || plan.remains[0].id == "remains.gel-leaves-dry"));
  }
}

TEST_CASE("A vent that is added and then widened is bored once, and fills as the two steps did") {
  Correction add;
  add.kind = Kind::vent_add, add.redesign = true, add.face = "port", add.port = "vent 2", add.port_radius = 5;
  add.port_to = {Vec3(30, 20, 0)};
  add.instruction = {Message("advice.air-trapped-around"), Message("advice.add-vent-mouth")};
  Correction wider;
  wider.kind = Kind::vent_enlarge, wider.redesign = true, wider.face = "port", wider.port = "vent 2";
  wider.port_to = add.port_to, wider.port_radius = 10;
  const Correction once = correct::vent_at_once(add, wider, 0);
  CHECK(once.kind == Kind::vent_add);
  CHECK(once.instruction.size() == 2);
  const Case& c = true_plate();
  FlowOptions two = set(c, add), one = set(c, once);
  std::vector<double> gap(c.sheet.size(), 0);
  LaminateOptions laminate = c.laminate;
  correct::apply(wider, gap, laminate, two);
  REQUIRE(one.vents.size() == two.vents.size());
  CHECK(one.vents.back().name == two.vents.back().name);
  CHECK(one.vents.back().radius == two.vents.back().radius);
  CHECK(one.vents.back().path == two.vents.back().path);
  CHECK_FALSE(correct::same_work(add, once));  // another mouth
}

TEST_CASE("Of a vent that is widened, moved, or both, the work that is left in the end is told") {
  Correction wider, moved;
  wider.kind = Kind::vent_enlarge, wider.port = "side", wider.port_to = {Vec3(30, 20, 0)}, wider.port_radius = 6;
  wider.instruction = {Message("advice.air-trapped-around"), Message("advice.open-mouth-vent-from")};
  moved.kind = Kind::vent_move, moved.port = "side", moved.port_to = {Vec3(90, 20, 0)};
  moved.instruction = {Message("advice.air-trapped-around"), Message("advice.move-vent")};
  const auto told = [](const Correction& c) { return c.instruction.at(1).id; };
  const Correction before = correct::vent_at_once(wider, moved, 3);
  CHECK((before.kind == Kind::vent_move && before.port_radius == 6 && before.port_to == moved.port_to));
  CHECK(told(before) == "advice.move-vent-mouth");
  Correction wider_there = wider;
  wider_there.port_to = moved.port_to;
  const Correction after = correct::vent_at_once(moved, wider_there, 3);
  CHECK((after.kind == Kind::vent_move && after.port_radius == 6 && after.port_to == moved.port_to));
  CHECK(told(after) == "advice.move-vent-mouth");
  Correction farther = moved;
  farther.port_to = {Vec3(120, 20, 0)};
  const Correction twice = correct::vent_at_once(moved, farther, 3);
  CHECK((twice.kind == Kind::vent_move && twice.port_radius == 0 && twice.port_to == farther.port_to));
  CHECK(told(twice) == "advice.move-vent");
  Correction widest = wider;
  widest.port_radius = 9;
  const Correction wide = correct::vent_at_once(wider, widest, 3);
  CHECK((wide.kind == Kind::vent_enlarge && wide.port_radius == 9));
  CHECK_THAT(say(wide.instruction.at(1)), Catch::EndsWith("from 6 mm to 18 mm."));
}

TEST_CASE("The same setting or vent, found for two states, is one candidate") {
  Correction a;
  a.kind = Kind::lower_limit, a.redesign = true, a.face = "settings", a.setting = 5e4;
  Correction b = a;
  b.setting = 5.01e4;
  CHECK(correct::same_work(a, b));
  b.setting = 5.2e4;
  CHECK_FALSE(correct::same_work(a, b));
  // One step of a pump apart, a hundredth of a bar, they read alike on its gauge.
  a.setting = 9000, b.setting = 8812;
  CHECK(correct::same_work(a, b));
  a = {}, a.kind = Kind::vent_add, a.redesign = true, a.port = "vent 2", a.port_radius = 5,
  a.port_to = {Vec3(30, 20, 0)};
  b = a, b.port = "vent 3";
  CHECK(correct::same_work(a, b));
  b.port_to = {Vec3(30, 28, 0)};
  CHECK_FALSE(correct::same_work(a, b));
  b = a, b.kind = Kind::vent_enlarge;
  CHECK_FALSE(correct::same_work(a, b));
  // Work on two regions is never one, however alike.
  a = {}, a.kind = Kind::relief, b = a;
  CHECK_FALSE(correct::same_work(a, b));
}
