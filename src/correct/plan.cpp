// The steps of a plan, and what it begins and ends with.
#include <algorithm>
#include <cmath>

#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "correct/planner.hpp"
#include "gapfront/correct.hpp"

namespace gapfront::correct {
namespace {

// Below one in twenty, the usual level, air that may be trapped is no reason to draw fillings for every candidate.
constexpr double kLeastPocket = 0.05;
// Fillings drawn for a candidate: with the same random numbers for all of them, few tell two states apart. What is
// chosen is drawn as often as the job says.
constexpr int kDraws = 8;
// The glass cannot fill "a good part" of the section from this share of the sheet on (own choice): less is a local
// matter of one zone.
constexpr double kGoodPart = 0.05;
// A true mold that traps air more often than not has a layout that traps air.
constexpr double kMoreOftenThanNot = 0.5;
// Drawn fillings of a true mold whose layout was changed, to find out in which of them it still traps air.
constexpr int kDrawsOfRedesign = 24;
// Vents that are changed one after the other; with more the job should say where it wants them.
constexpr int kLayoutSteps = 3;
// Without drawn fillings a lead counts from this share of the fill time on: about what the scatter of the glass does.
constexpr double kLeadFraction = 0.1;

}  // namespace

void Planner::begin() {
  const int all = bench_.all_draws();
  effect_ = plan_.now = bench_.describe(state_, bench_.gap(state_), in_.measured, in_.lead, in_.breathing, all,
                                        in_.drawn ? *in_.drawn : std::vector<DrawnFill>{});
  const double least = o_.prices.decide() ? 0 : kLeastPocket;
  few_ = bench_.draws() && in_.pocket > least ? static_cast<std::size_t>(std::min(all, kDraws)) : 0;
  nominal_ = bench_.drawn_nominal(state_, in_.nominal, all);
  plan_.air_now = air_chance(plan_.now.drawn), plan_.air_nominal = air_chance(nominal_);
  plan_.dry_nominal = flow::mean_dry_area(nominal_);
  std::vector<double> leads;
  for (const auto& f : nominal_)
    if (!f.pocket) leads.push_back(f.max_lead_s);
  CureLimits& l = plan_.limits;
  l.lead_s = leads.empty() ? kLeadFraction * in_.nominal.fill_time
                           : std::max(flow::lead_threshold(in_.nominal), quantile(leads, 0.95));
  l.safety = in_.flow.closing.safety;
  l.reinforcement_area = in_.tolerance.min_region_area;
  if (in_.ensemble) l.dry_area = in_.ensemble->min_dry;
  plan_.obstacle = obstacle();
  plan_.obstacle_says = obstacle_text(bench_, plan_.obstacle, plan_.air_nominal);
  // Against a front that traps air itself no lead means anything, and its time is that of air being squeezed.
  fill_time_ = in_.nominal.pockets.empty() ? in_.nominal.fill_time : 0;
  remember({}, plan_.now);
}

Obstacle Planner::obstacle() const {
  if (!flow::close_mold(in_.sheet, in_.verdict.nominal, in_.laminate, in_.flow).closes())
    return Obstacle::reinforcement_holds_open;
  const LaminateMap m = laminate::evaluate_laminate(in_.sheet, in_.verdict.nominal, in_.laminate);
  if (m.under_filled_area > kGoodPart * bench_.area()) return Obstacle::stack_cannot_fill;
  if (!flow::in_time(in_.nominal, in_.flow)) return Obstacle::resin_gels_first;
  if (nominal_.empty() ? !in_.nominal.pockets.empty() : plan_.air_nominal.p > kMoreOftenThanNot)
    return Obstacle::layout_traps_air;
  return Obstacle::none;
}

/// Glass that does not suit the section comes before all work on the gap, which is computed with it.
void Planner::reinforcement_first() {
  greedy(add(stack_candidates(bench_, o_, state_)));
  const LaminateMap m = laminate::evaluate_laminate(in_.sheet, in_.verdict.nominal, state_.design);
  if (m.under_filled_area > kGoodPart * bench_.area() ||
      !flow::close_mold(in_.sheet, in_.verdict.nominal, state_.design, state_.flow).closes())
    missing_ = Missing::glass;
}

/// A front that stops tells nothing of what work on the gap does to it: what fills a true mold comes first.
void Planner::resin_first() {
  greedy(add(setting_candidates(bench_, o_, effect_, plan_.limits, true)));
  if (std::isfinite(flow::stops_at(true_mold(0).filling, state_.flow))) missing_ = Missing::resin;
}

/// Nothing is drilled for a vent that only has to stay open: that is tried before all else on ports.
void Planner::open_vents() {
  greedy(add(open_vent_candidates(o_, state_.flow, in_.measured, in_.nominal)));
  if (!o_.touch_tool) return;
  const bool changed = std::any_of(plan_.chosen.begin(), plan_.chosen.end(),
                                   [&](int k) { return plan_.candidates[k].kind == Kind::vent_open; });
  if (!changed) {
    ports_ = add(port_candidates(in_, o_, in_.flow, in_.measured));
    return;
  }
  // Ports belong to where the front ends with the vents as they then are.
  const LaminateMap laminate = filled(in_, bench_.gap(state_), state_.laminate, in_.breathing);
  ports_ = add(port_candidates(in_, o_, state_.flow, flow::fill(in_.sheet, laminate, state_.flow)));
}

/// Ports that are moved, larger and more vents, glass under them, settings: alternatives, so all are chosen from at
/// once.
void Planner::layout(bool true_mold) {
  for (int step = 0; step < kLayoutSteps && !surely_done(); ++step) {
    std::vector<int> which = step == 0 ? ports_ : std::vector<int>{};
    auto known = effect_.drawn;
    if (true_mold) {
      const int draws = std::min(bench_.all_draws(), kDrawsOfRedesign);
      known = this->true_mold(draws).drawn;
      if (state_.redesigned) known.resize(static_cast<std::size_t>(draws));
    }
    for (const int k : add(layout_candidates(bench_, o_, state_, true_mold, known))) which.push_back(k);
    const std::size_t before = states_.size();
    greedy(which);
    if (states_.size() == before) return;
  }
}

void Planner::list_candidates() {
  std::vector<Correction> list;
  if (auto c = shim_candidate(in_, o_, plan_.warnings)) list.push_back(std::move(*c));
  for (const auto& r : merged_regions(in_.sheet, in_.verdict.regions, o_.blend)) {  // ranked by volume, see `most`
    if (o_.touch_tool) list.push_back(surface_candidate(in_, o_, r));
    if (auto c = reinforcement_candidate(in_, o_, r, plan_.warnings)) list.push_back(std::move(*c));
  }
  // Nothing to work on: all of it lies where the tool was not seen, or is less than half a shop step.
  list.erase(std::remove_if(list.begin(), list.end(),
                            [](const Correction& c) {
                              return (c.kind == Kind::build_up || c.kind == Kind::relief) &&
                                     !(c.volume > 0 && c.peak > 0);
                            }),
             list.end());
  if (static_cast<int>(list.size()) > o_.most) {
    plan_.warnings.push_back(Message("corrections.only-first-candidates-were",
                                     {static_cast<long>(o_.most), static_cast<long>(list.size())}));
    list.resize(std::max(0, o_.most));
  }
  worked_ = add(std::move(list));
  greedy(worked_);
}

/// The chosen set with all draws and its own breathing; whatever then turns out to be worse than the tool as it is, is
/// dropped, the last step first.
void Planner::finish() {
  merge_vents();
  while (!plan_.chosen.empty()) {
    if (in_.breathing && in_.breathing->computed) {
      const auto gap = bench_.gap(state_);
      plan_.breathing_after =
          flow::breathe(in_.sheet, gap, state_.laminate, state_.flow, progress_, in_.breathing->filling.move);
      const Filling& nominal = true_mold(0).filling;
      const Filling& front = plan_.breathing_after.front;
      effect_ = bench_.describe(state_, gap, front, flow::compare_fillings(in_.sheet, nominal, front),
                                &plan_.breathing_after, bench_.all_draws());
    } else {
      effect_ = bench_.drawn(state_, plan_.after_each.back(), bench_.all_draws());
    }
    const auto harm =
        harm_of(std::any_of(plan_.chosen.begin(), plan_.chosen.end(),
                            [&](int k) { return works_gap(plan_.candidates[static_cast<std::size_t>(k)]); }),
                plan_.now, effect_);
    if (!harm) {
      plan_.after_each.back() = effect_;
      break;
    }
    harm_.insert_or_assign(plan_.chosen.back(), *harm);
    plan_.chosen.pop_back(), plan_.after_each.pop_back(), states_.pop_back();
    plan_.breathing_after = {};
    state_ = states_.empty() ? bench_.now() : states_.back();
  }
  if (few_ > 0)  // so that what each step does to the chance of trapped air can be told
    for (std::size_t i = 0; i + 1 < plan_.chosen.size(); ++i)
      plan_.after_each[i] = bench_.drawn(states_[i], std::move(plan_.after_each[i]), bench_.all_draws());
  if (plan_.chosen.empty())
    effect_ = plan_.now;
  else
    remember(plan_.chosen, effect_);
  plan_.after = effect_;
  plan_.air_after = air_chance(plan_.after.drawn);
  plan_.gap_after = bench_.gap(state_);
  plan_.laminate_after = state_.laminate, plan_.flow_after = state_.flow;
  if (state_.redesigned) plan_.nominal_arrival_after = true_mold(0).filling.arrival;
  plan_.not_cured = uncured(plan_.after, plan_.limits);
  if (o_.prices.decide()) plan_.saving = saved(plan_.now, plan_.after, hours(plan_.chosen));
}

CorrectionPlan Planner::run() {
  begin();
  report_progress(progress_, "correct", 0.3);
  const bool reinforcement =
      plan_.obstacle == Obstacle::stack_cannot_fill || plan_.obstacle == Obstacle::reinforcement_holds_open;
  if (reinforcement) reinforcement_first();
  if (plan_.obstacle == Obstacle::resin_gels_first) resin_first();
  report_progress(progress_, "correct", 0.4);
  if (missing_ == Missing::nothing) {
    open_vents();
    if (plan_.obstacle == Obstacle::layout_traps_air) layout(true);
    report_progress(progress_, "correct", 0.6);
    list_candidates();
    report_progress(progress_, "correct", 0.8);
    if (!reinforcement && reinforcement_uncured()) greedy(add(stack_candidates(bench_, o_, state_)));
    // What fills in time was tried already where the resin comes first.
    const auto gels = plan_.obstacle == Obstacle::resin_gels_first ? std::optional(false) : std::nullopt;
    // What has been chosen may hold the mold shut otherwise, or need other settings than the tool as it is.
    const auto settings = [&](std::optional<bool> first) {
      const State* worked = plan_.chosen.empty() ? nullptr : &state_;
      greedy(add(setting_candidates(bench_, o_, effect_, plan_.limits, first, worked)));
    };
    const std::size_t set = plan_.chosen.size();
    settings(gels);
    // The layout of a true mold is put right where that is not good; then that of this one, if it still traps air.
    const double rare = o_.prices.decide() ? 0 : plan_.limits.pocket;
    const auto traps = [&] { return effect_.dry_area > plan_.limits.dry_area || effect_.pocket > rare; };
    const bool late = effect_.gel_fraction > 1;  // no vent helps where the resin comes too late
    if (!late && traps()) {
      const bool true_mold = plan_.obstacle != Obstacle::layout_traps_air && plan_.air_nominal.low > kLeastPocket;
      layout(true_mold);
      if (true_mold && traps()) layout(false);
    } else if (plan_.obstacle != Obstacle::layout_traps_air) {
      greedy(ports_);
    }
    if (plan_.chosen.size() > set) offer_again(), settings(false);
  }
  finish();
  carry_out();
  weigh_all();
  name_all();
  say_what_is_left();
  parallel_for(
      plan_.chosen.size(), [&](std::size_t k) { add_details(in_, o_, plan_.candidates[plan_.chosen[k]]); }, 1);
  report_progress(progress_, "correct", 1);
  return std::move(plan_);
}

CorrectionPlan plan_corrections(const CorrectInput& in, const CorrectOptions& o, const Progress& progress) {
  return Planner(in, o, progress).run();
}

}  // namespace gapfront::correct
