// What to change on tool, glass and ports, each re-computed; and what all comes to.
#include <limits>

#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "pipeline/facts.hpp"
#include "pipeline/live_case.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/stages.hpp"
#include "pipeline/summarise.hpp"

namespace gapfront::pipeline {
namespace {

/// Targets are places that a tape can be held to.
CorrectOptions with_targets(const Job& job, const Alignment& alignment) {
  CorrectOptions out = job.correct;
  for (const auto& t : alignment.residuals) {
    double radius = 0;
    for (const auto& given : job.align.targets)
      if (given.name == t.name) radius = 0.5 * given.ball.value_or(0);
    out.references.push_back({t.name, t.place, radius, Mark::target});
  }
  return out;
}

CorrectInput facts_with_halves(const Predicted& p) {
  CorrectInput facts = facts_of(p);
  const ClosedHalves& halves = *p.halves;
  facts.nominal_lower = halves.nominal_lower ? &*halves.nominal_lower : nullptr;
  facts.nominal_upper = halves.nominal_upper ? &*halves.nominal_upper : nullptr;
  facts.lower_scan = &halves.lower, facts.upper_scan = &halves.upper;
  facts.pocket = p.ensemble.pocket, facts.advice = &p.advice;
  if (p.job.ensemble.runs > 0) facts.ensemble = &p.job.ensemble, facts.drawn = &p.ensemble.each;
  return facts;
}

/// The front after the chosen corrections; that of the tool as it is where none is chosen.
void fill_corrected(Inspection& out, Stages& stage) {
  const CorrectionPlan& plan = out.plan;
  const bool again = !plan.chosen.empty() && !plan.breathing_after.computed;
  out.filling_after = plan.breathing_after.computed ? plan.breathing_after.front : out.filling;
  if (again)
    out.filling_after = stage("flow, corrected", [&](const Progress& p) {
      return flow::fill(out.sheet, laminate::evaluate_laminate(out.sheet, plan.gap_after, plan.laminate_after),
                        plan.flow_after, p);
    });
  if (!plan.chosen.empty() && out.job.flow.closing.half.empty())
    stage("pockets, corrected", [&](const Progress&) {
      flow::judge_pockets(out.sheet, plan.gap_after, plan.laminate_after, plan.flow_after, out.filling_after);
    });
}

NodesAfter each_node_after(const Inspection& r) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  const std::size_t n = r.sheet.size();
  const auto& gap = r.plan.gap_after;
  GapMap changed = r.gap;
  const auto& nominal = r.plan.nominal_arrival_after;  // with a port moved that front is another one as well
  NodesAfter out{std::vector<double>(n, none), std::vector<Conformity>(n, Conformity::not_measured),
                 std::vector<double>(n)};
  for (std::size_t i = 0; i < n; ++i) {
    out.lead[i] = (nominal.empty() ? flow::passing_time(r.nominal_filling, i) : nominal[i]) -
                  flow::passing_time(r.filling_after, i);
    if (!r.gap.nodes[i].measured) continue;
    const NodeLimits& limits = r.verdict.limits[i];
    out.deviation[i] = gap[i] - limits.nominal;
    changed.nodes[i].gap = gap[i];
  }
  out.conformity = conformity::node_classes(r.sheet, changed, r.verdict.limits, r.verdict.rule);
  return out;
}

}  // namespace

Inspection correct(Predicted predicted, const Progress& progress) {
  if (!predicted.halves)
    throw Error(Fault::input, "correct: the halves were released; go on from what predict() returned");
  Inspection out;
  static_cast<Predicted&>(out) = std::move(predicted);
  Stages stage(progress, out.times);
  const CorrectInput facts = facts_with_halves(out);
  out.plan = stage("corrections", [&](const Progress& p) {
    return correct::plan_corrections(facts, with_targets(out.job, out.alignment), p);
  });
  append(out.warnings, out.plan.warnings);
  fill_corrected(out, stage);
  tell_opening_after(out);
  append(out.warnings, unsettled_warnings(out.filling_after));
  out.material_after =
      out.plan.chosen.empty()
          ? out.material
          : flow::material_use(out.sheet, out.gap,
                               laminate::evaluate_laminate(out.sheet, out.plan.gap_after, out.plan.laminate_after),
                               out.plan.laminate_after, out.plan.flow_after, out.filling_after, out.job.correct.prices);
  out.nodes_after = each_node_after(out);
  out.outcome = summarise(out);
  out.live = live::pack(live_case(out));
  return out;
}

}  // namespace gapfront::pipeline
