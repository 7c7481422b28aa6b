// What cures a spot.
#include <algorithm>

#include "diagnose/fillings.hpp"

namespace gapfront::diagnosis {
namespace {

// Of one filling, where nothing is drawn: a cure leaves less than this of the spot in trouble.
constexpr double kCured = 0.1;
// The ensemble is dear: of corrections only so many are tried with it.
constexpr int kTries = 3;

/// Whether the correction works where another that is chosen works already.
bool worked_already(const CorrectionPlan& plan, const Correction& c) {
  return std::any_of(plan.chosen.begin(), plan.chosen.end(), [&](int k) {
    const Correction& other = plan.candidates[k];
    return &other == &c || (!c.region.empty() && other.region == c.region) || (!c.port.empty() && other.port == c.port);
  });
}

/// What the chosen corrections make of the spot, in numbers: beside the limit a flat no would hide most of it.
Message plan_leaves(const SpotDiagnosis& d, double now, const DiagnoseOptions& o) {
  if (d.plan_chance.draws > 0)
    return Message("diagnosis.plan-takes-chance-from",
                   {arg::probability(now), arg::probability(d.plan_chance.p), arg::probability(d.plan_chance.low),
                    arg::probability(d.plan_chance.high), arg::probability(o.cured_below)});
  return Message("diagnosis.plan-leaves-of-spot",
                 {arg::fraction(d.trouble, 0), arg::fraction(d.plan_trouble, 0), arg::fraction(kCured, 0)});
}

}  // namespace

void find_cure(const CorrectInput& in, const CorrectionPlan& plan, const State& now, const DiagnoseOptions& o,
               const Counted& counted, Fillings& run, SpotDiagnosis& d) {
  struct Left {
    double trouble, fill_time;
    Chance chance;
    bool cured;
  };
  const auto left = [&](const State& s, bool surely) {
    const Filling f = run(s);
    Left l{trouble_at(in.sheet, f, s.flow, d.spot), f.fill_time, {}, false};
    if (!flow::settled(f)) return l;  // nothing is told from it
    l.cured = l.trouble <= kCured;
    // A filling that shows the spot as large as ever needs no draws, unless the plan is asked about.
    if (counted.drawn() && (surely || l.trouble < kPredicted))
      l.chance = counted.of(run.hits(s, d.spot, counted.hit.size())), l.cured = l.chance.p < o.cured_below;
    return l;
  };
  const auto take = [&](CureBy by, const Left& l) {
    d.cure_by = by, d.cure_trouble = l.trouble, d.cure_fill_time = l.fill_time, d.cure_chance = l.chance;
  };
  d.plan_works = !plan.chosen.empty();
  const State after = d.plan_works ? planned_state(in, plan) : now;
  if (d.plan_works) {
    const Left l = left(after, true);
    d.plan_trouble = l.trouble, d.plan_fill_time = l.fill_time, d.plan_chance = l.chance;
    if (d.predicted && l.cured) {
      take(CureBy::plan, l);
      d.cure_text = {Message("diagnosis.corrections-report-has-chosen")};
      for (const int k : plan.chosen) d.cure_steps.push_back(in_sequence(plan.candidates[k].instruction));
      return;
    }
  }
  if (!d.predicted) {
    d.cure_text = {Message("pages.no-correction-tool-proposed")};
    return;
  }
  std::vector<int> order;
  for (std::size_t k = 0; k < plan.candidates.size(); ++k) {
    const Correction& c = plan.candidates[k];
    // Work on the gap is no cure where the gap is not the cause; ports and glass may be.
    if ((d.gap_explains || c.gap_change.empty()) && !worked_already(plan, c)) order.push_back(static_cast<int>(k));
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](int a, int b) { return plan.candidates[a].effort < plan.candidates[b].effort; });
  int drawn = 0;
  for (const int k : order) {
    if (drawn >= kTries) break;
    const Left l = left(with_correction(after, plan.candidates[k]), false);
    drawn += l.chance.draws > 0;
    if (!l.cured) continue;
    take(CureBy::one, l), d.cure = k;
    if (d.plan_works)
      d.cure_text = {plan_leaves(d, d.now.p, o),
                     l.chance.draws > 0 ? Message("diagnosis.with-this-besides-chance", {arg::probability(l.chance.p)})
                                        : Message("diagnosis.with-this-besides-cured")};
    else
      d.cure_text = {Message("diagnosis.this-correction-cures")};
    d.cure_steps = {in_sequence(plan.candidates[k].instruction)};
    return;
  }
  if (d.gap_explains && d.plan_works)
    d.cure_text = {plan_leaves(d, d.now.p, o), Message("diagnosis.no-other-candidate-below")};
  else
    d.cure_text = {
        Message(d.gap_explains ? "diagnosis.no-correction-plan-cures" : "pages.no-correction-tool-proposed")};
}

}  // namespace gapfront::diagnosis
