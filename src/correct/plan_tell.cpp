// What a plan promises by real hands, and what it says of all that is left.
#include <algorithm>

#include "correct/planner.hpp"
#include "gapfront/workmanship.hpp"

namespace gapfront::correct {
namespace {

/// Whether `region` is among the regions, joined with " + ", that a correction works on.
bool works_on(const Correction& c, const std::string& region) {
  return (" + " + c.region + " + ").find(" + " + region + " + ") != std::string::npos;
}

}  // namespace

/// Of a gap that the first `steps` chosen ones and `more` have made.
OutArea Planner::by_hands(const std::vector<double>& gap, std::size_t steps, const Correction* more) const {
  std::vector<const Correction*> worked;
  for (std::size_t s = 0; s < steps; ++s) worked.push_back(&plan_.candidates[plan_.chosen[s]]);
  if (more) worked.push_back(more);
  return out_after_work(in_.sheet, in_.gap, in_.verdict.limits, gap, worked, o_.workmanship);
}

/// Decisions are taken by what is ordered; what is promised is what hands can do.
void Planner::carry_out() {
  plan_.out_after = by_hands(plan_.gap_after, plan_.chosen.size());
  plan_.after.out_of_tolerance_area = plan_.out_after.mean;
  for (std::size_t s = 0; s < states_.size(); ++s)  // the last one is `after`
    plan_.after_each[s].out_of_tolerance_area =
        s + 1 < states_.size() ? by_hands(bench_.gap(states_[s]), s + 1).mean : plan_.out_after.mean;
  for (std::size_t k = 0; k < hands_.size(); ++k) {
    plan_.candidates[k].before.out_of_tolerance_area = hands_[k][0];
    plan_.candidates[k].after.out_of_tolerance_area = hands_[k][1];
  }
}

/// What every state costs, and which of the sets no other beats.
void Planner::weigh_all() {
  const auto weigh = [&](Effect& e) { e.bad = chance_of_a_bad_part(e, plan_.limits, scale()); };
  weigh(plan_.now), weigh(plan_.after);
  for (Effect& e : plan_.after_each) weigh(e);
  for (Correction& c : plan_.candidates) weigh(c.before), weigh(c.after);
  if (o_.prices.decide()) {
    plan_.cost_now = cost_of_run(plan_.now, o_.prices, plan_.limits, scale());
    plan_.cost_after =
        cost_of_run(plan_.after, o_.prices, plan_.limits, scale()) + o_.prices.hour * hours(plan_.chosen);
  }
  auto& all = plan_.options;
  std::stable_sort(all.begin(), all.end(), [](const PlanOption& a, const PlanOption& b) {
    return a.hours != b.hours ? a.hours < b.hours : a.bad < b.bad;
  });
  std::vector<PlanOption> best;
  for (PlanOption& p : all)
    if (best.empty() || p.bad < best.back().bad) best.push_back(std::move(p));
  all = std::move(best);
}

/// "C1" is the one with the greatest benefit per hour, or that saves the run most.
void Planner::name_all() {
  drop_twins();
  std::vector<int> order;
  for (int k = 0; k < static_cast<int>(plan_.candidates.size()); ++k)
    if (std::find(dropped_.begin(), dropped_.end(), k) == dropped_.end()) order.push_back(k);
  const auto rank = [&](int k) {
    const Correction& c = plan_.candidates[k];
    return o_.prices.decide() ? c.saving.mean : c.benefit;
  };
  std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return rank(a) > rank(b); });
  std::vector<int> place(plan_.candidates.size());
  std::vector<Correction> sorted;
  for (std::size_t k = 0; k < order.size(); ++k) {
    place[order[k]] = static_cast<int>(k);
    sorted.push_back(std::move(plan_.candidates[order[k]]));
    sorted.back().name = "C" + std::to_string(k + 1);
  }
  plan_.candidates = std::move(sorted);
  for (int& k : plan_.chosen) k = place[k];
  for (PlanOption& p : plan_.options)
    for (int& k : p.steps) k = place[k];
  for (int& k : unsettled_) k = place[k];
  std::map<int, Uncured> harm;
  for (const auto& [k, what] : harm_) harm[place[k]] = what;
  harm_ = std::move(harm);
}

namespace {

/// Why shims that were refused are not proposed.
const char* against_shims(Uncured harm) {
  switch (harm) {
    case Uncured::dry_area:
      return "work.shims-would-trap";
    case Uncured::opening:
      return "work.shims-would-open";
    case Uncured::over_packed:
      return "work.shims-would-pack";
    case Uncured::under_filled:
      return "work.shims-would-leave-unfilled";
    case Uncured::gel:
      return "work.shims-would-gel";
    default:
      return "work.shims-would-weigh";
  }
}

}  // namespace

/// Shims that would put area into tolerance and are refused for what else they do.
void Planner::say_refused_shims() {
  for (const auto& [k, harm] : harm_) {
    const Correction& c = plan_.candidates[k];
    const double before = c.before.out_of_tolerance_area, after = c.after.out_of_tolerance_area;
    if (c.kind != Kind::shim || harm == Uncured::tolerance || !(after < plan_.after.out_of_tolerance_area) ||
        std::find(plan_.chosen.begin(), plan_.chosen.end(), k) != plan_.chosen.end())
      continue;
    plan_.left.push_back(Message("work.shims-left", {arg::name(c.name), arg::area(before), arg::area(after),
                                                     arg::message(Message(against_shims(harm)))}));
  }
}

void Planner::say_what_is_left() {
  const bool in_tolerance = std::count(plan_.not_cured.begin(), plan_.not_cured.end(), Uncured::tolerance) == 0;
  const auto why = [&](const DeviationRegion& r) -> const char* {
    if (in_tolerance) return "work.around-left-gap-within";
    if (missing_ == Missing::glass) return "advice.around-left-first-glass";
    if (missing_ == Missing::resin) return "advice.around-left-first-resin";
    for (const auto& [k, what] : harm_) {
      if (!works_on(plan_.candidates[k], r.name)) continue;
      switch (what) {
        case Uncured::dry_area:
          return "advice.around-left-work-there";
        case Uncured::opening:
          return "advice.around-left-work-there-would";
        case Uncured::over_packed:
          return "advice.around-left-work-there-would-over";
        case Uncured::under_filled:
          return "work.around-left-would-leave-unfilled";
        case Uncured::gel:
          return "advice.around-left-work-there-resin";
        case Uncured::weight:
          return "optimiser.left-weight-window";
        default:
          return "advice.around-left-work-there-would-put";
      }
    }
    return o_.touch_tool ? "work.around-left-what-would" : "work.around-left-tool-not";
  };
  for (const auto& r : in_.verdict.regions) {
    if (std::any_of(plan_.chosen.begin(), plan_.chosen.end(),
                    [&](int k) { return works_on(plan_.candidates[k], r.name); }))
      continue;
    plan_.left.push_back(Message(why(r), {arg::name(r.name), arg::place(r.centre), arg::area(r.area, 1)}));
  }
  if (!in_tolerance) say_refused_shims();
  Messages unsettled;
  std::sort(unsettled_.begin(), unsettled_.end());
  unsettled_.erase(std::unique(unsettled_.begin(), unsettled_.end()), unsettled_.end());
  for (const int k : unsettled_) unsettled.push_back(Message("list.plain", {arg::name(plan_.candidates[k].name)}));
  if (!unsettled.empty()) plan_.warnings.push_back(Message("optimiser.candidates-unsettled", {unsettled}));
  for (const auto& [k, what] : harm_) ++refused_.worse[what];
  refused_.little = static_cast<int>(plan_.candidates.size() - plan_.chosen.size() - harm_.size());
  plan_.remains = remains_text(bench_, plan_, o_, refused_);
}

}  // namespace gapfront::correct
