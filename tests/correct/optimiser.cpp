// The plan as an optimiser: expected cost of the run, by the same draws for every candidate.
#include <catch2/catch.hpp>

#include <cmath>
#include "gapfront/text.hpp"

#include "correct/candidates.hpp"
#include "correct/state.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;

namespace {

void refilled(Case& c) {
  std::vector<double> now;
  for (const auto& n : c.gap.nodes) now.push_back(n.gap);
  c.verdict = conformity::judge(c.sheet, c.gap, c.tolerance);
  c.nominal = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), c.flow);
  c.measured = flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, now, c.laminate), c.flow);
  c.lead = flow::compare_fillings(c.sheet, c.nominal, c.measured);
}

CorrectionPlan planned(const Case& c, const EnsembleOptions& draws) {
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  std::vector<double> gap;
  for (const auto& n : c.gap.nodes) gap.push_back(n.gap);
  const auto drawn = flow::draw_air(c.sheet, c.gap, gap, c.laminate, c.flow, draws, 0, draws.runs, false, &c.nominal);
  in.ensemble = &draws, in.drawn = &drawn, in.pocket = correct::air_chance(drawn).p;
  return correct::plan_corrections(in, c.options);
}

bool is_patch_at_vent(const Correction& c) { return c.kind == Kind::reinforcement_patch && c.port == "middle"; }

/// Filled from its rim to a vent beside the middle. On the left half a lane is slightly wide, within tolerance, so that
/// the front comes early to the vent and closes it.
Case early_at_vent(double extra, double x) {
  Case c([=](const Vec3& p) { return 3 + (p.x() < 0 ? extra * std::exp(-p.y() * p.y() / (2 * 18 * 18)) : 0); }, false);
  c.flow.vents[0].radius = 6, c.flow.vents[0].path = {Vec3(x, 0, 0)};
  c.laminate.plies[0].reinforcement.permeability.spread = 0.1;
  refilled(c);
  return c;
}

}  // namespace

// Common practice, no source: an extra patch of glass under the vent slows the front there, so that it fills what it
// missed. Vent and lane are within tolerance, so that no work on the face is ordered.
TEST_CASE("A front that comes slightly early at the vent: the plan finds the patch under it, unprompted") {
  const EnsembleOptions draws;
  int found = 0, molds = 0;
  for (const double x : {-26.0, -28.0, -30.0}) {
    const double extra = 0.28;
    const Case c = early_at_vent(extra, x);
    const CorrectionPlan plan = planned(c, draws);
    const bool offered = std::any_of(plan.candidates.begin(), plan.candidates.end(), is_patch_at_vent);
    bool taken = false;
    std::string steps;
    for (const int k : plan.chosen) {
      taken = taken || is_patch_at_vent(plan.candidates[k]);
      steps += std::string(to_string(plan.candidates[k].kind)) + ", ";
    }
    ++molds, found += taken;
    WARN("vent at " << x << ": air " << plan.air_now.p << " -> " << plan.air_after.p << ", offered " << offered << ", "
                 << steps << " saves " << plan.saving.mean << " (" << plan.saving.low << " to " << plan.saving.high
                 << ")");
    for (const auto& k : plan.candidates)
      WARN("  " << to_string(k.kind) << " " << k.port << " h " << k.effort << " r " << k.port_radius << " area " << k.area << " saves " << k.saving.mean << " p "
                << k.before.pocket << " -> " << k.after.pocket);
    if (taken) CHECK(plan.air_after.p < plan.air_now.p);
  }
  CHECK(found == molds);
}
