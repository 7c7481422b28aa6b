// Ports that move.
#include <catch2/catch.hpp>

#include <cmath>
#include "gapfront/text.hpp"

#include "core/neighbours.hpp"
#include "core/sheet_parts.hpp"
#include "correct/candidates.hpp"
#include "correct/port_places.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;

namespace {

/// A true plate, filled from `inlet` to a vent at the middle of its right side.
struct Side : Case {
  explicit Side(std::vector<Vec3> inlet) : Case([](const Vec3&) { return 3.0; }) {
    flow.inlets[0] = {};
    flow.inlets[0].name = "gate", flow.inlets[0].path = std::move(inlet), flow.inlets[0].radius = 11;
    flow.vents[0].path = {Vec3(120, 0, 0)};
    nominal = measured = flow::fill(sheet, laminate::evaluate_laminate(sheet, verdict.nominal, laminate), flow);
    lead = flow::compare_fillings(sheet, nominal, measured);
  }
};

const Correction* inlet_move(const CorrectionPlan& p) {
  for (const auto& c : p.candidates)
    if (c.kind == Kind::inlet_move) return &c;
  return nullptr;
}

}  // namespace

// From the middle of the plate the corners far from the vent fill last. With the inlet nearer to them by half of what
// they are off, the resin ends at the vent's side.
TEST_CASE("A last point far from the vent makes moving the inlet a candidate, with its effect re-computed") {
  const Side c({Vec3::Zero()});
  REQUIRE(c.measured.last_to_vent > 150);
  const CorrectionPlan plan = c.plan();
  const Correction* k = inlet_move(plan);
  REQUIRE(k);
  CHECK(k->port == "gate");
  CHECK_THAT(say(k->instruction), Catch::Contains("Move the inlet \"gate\" to x "));
  REQUIRE(k->port_to.size() == 1);
  const Vec3 last = c.sheet.mesh.points[c.measured.last_node];
  CHECK((k->port_to[0] - 0.5 * (last - Vec3(120, 0, 0))).norm() < 15);  // to the next node off the rim by its radius
  CHECK(k->effort == Approx(6));                                        // the table's hours

  // The same by hand.
  FlowOptions moved = c.flow;
  moved.inlets[0].path = k->port_to;
  const Filling again = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), moved);
  double dry = 0;
  for (const auto& p : again.pockets) dry += p.area;
  CHECK(k->after.dry_area == Approx(dry));
  CHECK(k->after.fill_time == Approx(again.fill_time));
  CHECK(k->after.last_to_vent == Approx(again.last_to_vent));
  CHECK(k->after.last_to_vent < 0.6 * k->before.last_to_vent);
  CHECK(k->after.rms_lead_s == Approx(0).margin(1e-6));  // a true gap leads nowhere, wherever it is filled from
}

TEST_CASE("A plan that moves the inlet says so in the flow after it, and in the nominal front") {
  Side c({Vec3::Zero()});
  c.options.effort = correct::default_effort();
  for (auto& e : c.options.effort)
    if (e.kind == Kind::vent_move || e.kind == Kind::vent_add || e.kind == Kind::vent_enlarge ||
        e.kind == Kind::reinforcement_patch || e.kind == Kind::inlet_add)
      e.fixed = 1e4;  // so that the inlet is tried first
  const CorrectionPlan plan = c.plan();
  const Correction* k = inlet_move(plan);
  REQUIRE(k);
  REQUIRE_FALSE(plan.chosen.empty());
  REQUIRE(plan.candidates[plan.chosen[0]].kind == Kind::inlet_move);
  CHECK(plan.flow_after.inlets[0].path == k->port_to);
  CHECK(plan.after.dry_area < plan.now.dry_area);
  REQUIRE(plan.nominal_arrival_after.size() == c.sheet.size());
  std::size_t first = 0;
  for (std::size_t i = 0; i < c.sheet.size(); ++i)
    if ((c.sheet.mesh.points[i] - k->port_to[0]).norm() < 1e-9) first = i;
  CHECK(plan.nominal_arrival_after[first] == Approx(0).margin(1e-9));
  CHECK(c.nominal.arrival[first] > 1);
}

TEST_CASE("A line of inlets is a channel in the face: it stays, as a runner around the rim does") {
  const Side c({Vec3(-20, -30, 0), Vec3(-20, 30, 0)});
  const CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  const auto list = correct::port_candidates(in, c.options, in.flow, in.measured);
  CHECK_FALSE(list.empty());
  for (const auto& k : list) CHECK(k.kind == Kind::vent_move);

  Case rim([](const Vec3&) { return 3.0; });
  rim.flow.vents[0].path = {Vec3(-90, -60, 0)};
  rim.measured = rim.nominal =
      flow::fill(rim.sheet, laminate::evaluate_laminate(rim.sheet, rim.verdict.nominal, rim.laminate), rim.flow);
  const CorrectInput whole{rim.sheet, rim.gap,     rim.tolerance, rim.verdict, rim.laminate,
                           rim.flow,  rim.nominal, rim.measured,  rim.lead};
  for (const auto& k : correct::port_candidates(whole, rim.options, whole.flow, whole.measured))
    CHECK(k.kind == Kind::vent_move);
}

TEST_CASE("A port is proposed where its whole mouth stays within the seal line, as near as that allows") {
  const Side c({Vec3::Zero()});
  const correct::PortPlaces places(c.sheet);
  const auto off_rim = [&](const Vec3& p) {
    double least = 1e300;
    for (const auto& [a, b] : rim_edges(c.sheet.mesh))
      least = std::min(least, distance_to_path(p, {c.sheet.mesh.points[a], c.sheet.mesh.points[b]}));
    return least;
  };
  const Vec3 corner(120, 90, 0);
  for (const double mouth : {6.0, 15.0}) {
    CHECK_FALSE(places.holds(corner, mouth));
    const Vec3 at = places.nearest(corner, mouth);
    CHECK(off_rim(at) >= mouth);
    CHECK((at - corner).norm() < 1.5 * mouth + 15);  // √2 of the mouth, and to the next node
  }
  const Vec3 inside(11, 4, 0);
  CHECK(places.nearest(inside, 6) == c.sheet.mesh.points[nearest_node(c.sheet, inside)]);
}

// Filled from the rim, the plate ends somewhere in its middle, as the glass scatters, and its vent is beside that.
TEST_CASE("Where air may be trapped the benefit goes by the dry area of drawn fillings") {
  Case c([](const Vec3& p) { return 3 + 0.2 + 0.002 * p.x(); });
  c.flow.vents[0].path = {Vec3(40, 0, 0)}, c.flow.vents[0].radius = 3;
  std::vector<double> now;
  for (const auto& n : c.gap.nodes) now.push_back(n.gap);
  c.nominal = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), c.flow);
  c.measured = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, now, c.laminate), c.flow);
  c.lead = flow::compare_fillings(c.sheet, c.nominal, c.measured);
  EnsembleOptions draws;
  const auto plan = [&](double pocket) {
    CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
    in.ensemble = &draws, in.pocket = pocket;
    return correct::plan_corrections(in, c.options);
  };
  const CorrectionPlan drawn = plan(0.5);
  const Ensemble all = flow::draw_fillings(c.sheet, c.gap, now, c.laminate, c.flow, c.nominal, c.lead, draws);
  CHECK(drawn.now.pocket == all.pocket);
  CHECK(drawn.air_now.hits == std::lround(64 * all.pocket));
  draws.runs = 8;  // of a candidate
  const Ensemble own = flow::draw_fillings(c.sheet, c.gap, now, c.laminate, c.flow, c.nominal, c.lead, draws);
  draws.runs = 64;
  REQUIRE(own.pocket > 0);
  REQUIRE(own.dry_area > 0);
  REQUIRE(std::abs(own.dry_area - drawn.now.dry_area) > 20);  // the one filling would say something else
  double area = 0;
  for (const double a : c.sheet.area) area += a;
  REQUIRE_FALSE(drawn.candidates.empty());
  // What is tried first starts from the tool as it is; the rest from what a better layout has left.
  CHECK(std::any_of(drawn.candidates.begin(), drawn.candidates.end(),
                    [&](const Correction& k) { return std::abs(k.before.expected_dry_area - own.dry_area) < 1e-6; }));
  for (const auto& k : drawn.candidates) {
    REQUIRE(k.after.expected_dry_area >= 0);
    const auto fractions = [&](const Effect& e) {
      // No lead where the nominal front traps air itself.
      const double lead = c.nominal.pockets.empty() ? e.rms_lead_s / c.nominal.fill_time : 0;
      return (0.5 * (e.nonconforming_area + e.out_of_tolerance_area) + e.expected_dry_area + e.over_packed_area +
              e.under_filled_area) /
                 area +
             lead;
    };
    CHECK(k.benefit == Approx((fractions(k.before) - fractions(k.after)) / k.effort));
  }
  if (drawn.after.expected_dry_area > 0) CHECK_THAT(say(drawn.remains), Catch::Contains("% of the fillings trap air"));

  const CorrectionPlan without = plan(0.05);
  CHECK(without.now.pocket == all.pocket);  // what is told is drawn always
  for (const auto& k : without.candidates) CHECK(std::isnan(k.after.expected_dry_area));
}
