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

/// What is left of a spot in a state of the tool.
struct Left {
  double trouble, fill_time;
  Chance chance;
  bool cured;
};

/// What it was, what it is, and from what on it counts as cured: a flat no would hide most of what is gained.
Message in_numbers(const char* of_parts, const char* of_spot, const SpotDiagnosis& d, const Left& l,
                   const DiagnoseOptions& o) {
  if (l.chance.draws > 0)
    return Message(of_parts, {arg::probability(d.now.p), arg::probability(l.chance.p), arg::probability(l.chance.low),
                              arg::probability(l.chance.high), arg::probability(o.cured_below)});
  return Message(of_spot, {arg::fraction(d.trouble, 0), arg::fraction(l.trouble, 0), arg::fraction(kCured, 0)});
}

/// The spot as it is, where nothing is chosen.
Message as_it_is(const SpotDiagnosis& d, const DiagnoseOptions& o) {
  if (d.now.draws > 0)
    return Message("diagnosis.chance-as-it-is", {arg::probability(d.now.p), arg::probability(d.now.low),
                                                 arg::probability(d.now.high), arg::probability(o.cured_below)});
  return Message("diagnosis.of-spot-as-it-is", {arg::fraction(d.trouble, 0), arg::fraction(kCured, 0)});
}

/// Whether a spot was counted on so few parts that it is cured as it is, whatever the model makes of it.
bool too_seldom(const DrySpot& spot, const DiagnoseOptions& o) {
  return spot.parts > 0 && counted_share(spot) < o.cured_below;
}

/// That one more correction, on top of those the report has chosen, cures the spot.
Message with_one_more(const Left& l) {
  if (l.chance.draws > 0)
    return Message("diagnosis.with-this-besides-chance",
                   {arg::probability(l.chance.p), arg::probability(l.chance.low), arg::probability(l.chance.high)});
  return Message("diagnosis.with-this-besides-of-spot", {arg::fraction(l.trouble, 0)});
}

}  // namespace

void find_cure(const CorrectInput& in, const CorrectionPlan& plan, const State& now, const DiagnoseOptions& o,
               const Counted& counted, Fillings& run, SpotDiagnosis& d) {
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
  Message before = as_it_is(d, o);
  if (d.plan_works) {
    const Left l = left(after, true);
    d.plan_trouble = l.trouble, d.plan_fill_time = l.fill_time, d.plan_chance = l.chance;
    if (d.predicted && l.cured && !too_seldom(d.spot, o)) {
      take(CureBy::plan, l);
      d.cure_text = {in_numbers("diagnosis.plan-cures-chance", "diagnosis.plan-cures-of-spot", d, l, o)};
      for (const int k : plan.chosen) d.cure_steps.push_back(in_sequence(plan.candidates[k].instruction));
      return;
    }
    before = in_numbers("diagnosis.plan-takes-chance-from", "diagnosis.plan-leaves-of-spot", d, l, o);
  }
  if (d.predicted && too_seldom(d.spot, o)) {
    d.cure_text = {Message("diagnosis.seen-too-seldom",
                           {arg::number(d.spot.seen), arg::number(d.spot.parts), arg::probability(o.cured_below)})};
    return;
  }
  if (!d.predicted) {
    // Whether the gap or something else makes it is not known: nothing is said of either.
    d.cure_text = {d.model.hits > 0 ? Message("diagnosis.no-correction-too-seldom")
                                    : Message(d.plan_works ? "diagnosis.chosen-for-other-things"
                                                           : "diagnosis.no-correction-without-cause")};
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
  long tried = 0;
  for (const int k : order) {
    if (drawn >= kTries) break;
    const Left l = left(with_correction(after, plan.candidates[k]), false);
    ++tried, drawn += l.chance.draws > 0;
    if (!l.cured) continue;
    take(CureBy::one, l), d.cure = k;
    d.cure_text = d.plan_works
                      ? Text{before, with_one_more(l)}
                      : Text{in_numbers("diagnosis.this-cures-chance", "diagnosis.this-cures-of-spot", d, l, o)};
    d.cure_steps = {in_sequence(plan.candidates[k].instruction)};
    return;
  }
  // The gap is not the cause, and nothing works on anything else.
  if (!d.gap_explains && !d.plan_works && tried == 0)
    d.cure_text = {Message("pages.no-correction-tool-proposed")};
  else
    d.cure_text = {before, tried > 0 ? Message("diagnosis.more-tried", {tried}) : Message("diagnosis.none-left")};
  if (gel_explains(d)) d.cure_text.push_back(Message("diagnosis.gel-wants", {arg::time(gels_at(in.flow))}));
}

}  // namespace gapfront::diagnosis
