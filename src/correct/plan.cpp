// Verify every candidate, then combine: each state goes through gap → laminate → flow.
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "core/parallel.hpp"
#include "correct/remains.hpp"
#include "gapfront/correct.hpp"
#include "gapfront/workmanship.hpp"

namespace gapfront::correct {
namespace {

// Gains under half a percent of area or of fill time are within what the flow's mesh resolves (1 % of fill time, the
// bar for closed forms), so a step that gains less is not recommended. The gap's own U is seen to before: regions are
// provably out, and shims are considered only for a rigid part that exceeds its U.
constexpr double kLeastGain = 0.005;
// Below one in twenty, the usual level, air that may be trapped is no reason to draw fillings for every candidate.
constexpr double kLeastPocket = 0.05;
// Fillings drawn for a candidate: with the same random numbers for all of them, few tell two states apart. What is
// chosen is drawn as often as the job says.
constexpr int kDraws = 8;
// Fillings drawn for a step that is about to be taken, compared in pairs with those of the state before it. The first
// and the last state are drawn as often as the job says.
constexpr std::size_t kStepDraws = 24;
// The glass cannot fill "a good part" of the section from this share of the sheet on (own choice): less is a local
// matter of one zone.
constexpr double kGoodPart = 0.05;
// A true mold that traps air more often than not has a layout that traps air.
constexpr double kMoreOftenThanNot = 0.5;
// Vents that are changed one after the other; with more the job should say where it wants them.
constexpr int kLayoutSteps = 3;
// Without drawn fillings a lead counts from this share of the fill time on: about what the scatter of the glass does.
constexpr double kLeadFraction = 0.1;

bool on_reinforcement(const Correction& c) {
  return c.kind == Kind::reinforcement_patch || c.kind == Kind::radius_packing;
}

/// In which order work is considered. Shims seat the half; the regions are cut from what is left after that, so shims
/// go first. Glass comes after work on the tool and only where no such work is chosen: it hides an error in every part
/// instead of curing it once. Ports last: where the last point lies is known when the gap is as good as it gets.
int phase(const Correction& c) {
  if (c.redesign) return 3;
  switch (c.kind) {
    case Kind::shim:
      return 0;
    case Kind::build_up:
    case Kind::relief:
      return 1;
    case Kind::reinforcement_patch:
    case Kind::radius_packing:
      return 2;
    default:
      return 3;
  }
}
constexpr int kPhases = 4;

/// Whether `region` is among the regions, joined with " + ", that a correction works on.
bool works_on(const Correction& c, const std::string& region) {
  return (" + " + c.region + " + ").find(" + " + region + " + ") != std::string::npos;
}

double quantile95(std::vector<double> v) {
  if (v.empty()) return 0;
  std::sort(v.begin(), v.end());
  return v[static_cast<std::size_t>(std::lround(0.95 * double(v.size() - 1)))];
}

/// Whether a step really traps air less often: the same draws before and after, by those that change alone (McNemar
/// 1947; two standard deviations).
bool fewer_pockets(const std::vector<DrawnFill>& before, const std::vector<DrawnFill>& after) {
  double cleared = 0, made = 0;
  for (std::size_t i = 0; i < std::min(before.size(), after.size()); ++i) {
    cleared += before[i].pocket && !after[i].pocket;
    made += !before[i].pocket && after[i].pocket;
  }
  return cleared - made > 2 * std::sqrt(cleared + made);
}

/// The plan in the making.
class Planner {
 public:
  Planner(const CorrectInput& in, const CorrectOptions& o, const Progress& progress)
      : in_(in), o_(o), progress_(progress), bench_(in), state_(bench_.now()) {
    plan_.effort = o.effort, plan_.letter = o.letter;
    plan_.shop_step = o.shop_step, plan_.references = tape_references(o);
  }
  CorrectionPlan run();

 private:
  void begin();
  Obstacle obstacle() const;
  void reinforcement_first();
  void layout(bool true_mold);
  void list_candidates();
  std::vector<int> add(std::vector<Correction>);
  void greedy(const std::vector<int>& which);
  bool take(int k, const Effect& seen);
  void finish();
  OutArea by_hands(const std::vector<double>& gap, std::size_t steps, const Correction* more = nullptr) const;
  void carry_out();
  void name_all();
  void say_what_is_left();
  /// A lead within what the glass scatters in a true mold is no reason to work.
  double value(const Effect& e) const {
    return loss(
        e, {.sheet_area = bench_.area(), .nominal_fill_time = e.max_lead_s > plan_.limits.lead_s ? fill_time_ : 0});
  }
  /// The present effect as a candidate's draws would tell it.
  Effect base() const { return with_draws(effect_, few_); }
  bool reinforcement_uncured() const {
    const auto left = uncured(effect_, plan_.limits);
    return std::any_of(left.begin(), left.end(),
                       [](Uncured u) { return u == Uncured::over_packed || u == Uncured::under_filled; });
  }

  const CorrectInput& in_;
  const CorrectOptions& o_;
  const Progress& progress_;
  Bench bench_;
  State state_;
  CorrectionPlan plan_;
  Effect effect_;  ///< of `state_`, with all draws
  double fill_time_ = 0;
  std::size_t few_ = 0;  ///< draws of a candidate
  Refused refused_;
  std::map<int, Uncured> harm_;  ///< why a candidate was refused
  std::vector<DrawnFill> nominal_;
  std::vector<State> states_;                 ///< after each chosen step
  std::vector<std::array<double, 2>> hands_;  ///< per candidate, out of tolerance before and after by real hands, mm²
  bool reinforcement_stands_ = true;          ///< no obstacle of the glass is left
};

void Planner::begin() {
  const int all = bench_.all_draws();
  effect_ = plan_.now = bench_.describe(state_, bench_.gap(state_), in_.measured, in_.lead, in_.breathing, all,
                                        in_.drawn ? *in_.drawn : std::vector<DrawnFill>{});
  few_ = bench_.draws() && in_.pocket > kLeastPocket ? static_cast<std::size_t>(std::min(all, kDraws)) : 0;
  nominal_ = bench_.drawn_nominal(state_, in_.nominal, all);
  plan_.air_now = air_chance(plan_.now.drawn), plan_.air_nominal = air_chance(nominal_);
  plan_.dry_nominal = flow::mean_dry_area(nominal_);
  std::vector<double> leads;
  for (const auto& f : nominal_)
    if (!f.pocket) leads.push_back(f.max_lead_s);
  CureLimits& l = plan_.limits;
  l.lead_s = leads.empty() ? kLeadFraction * in_.nominal.fill_time
                           : std::max(flow::lead_threshold(in_.nominal), quantile95(leads));
  l.safety = in_.flow.closing.safety;
  l.reinforcement_area = in_.tolerance.min_region_area;
  if (in_.ensemble) l.dry_area = in_.ensemble->min_dry;
  plan_.obstacle = obstacle();
  plan_.obstacle_says = obstacle_text(bench_, plan_.obstacle, plan_.air_nominal);
  // Against a front that traps air itself no lead means anything, and its time is that of air being squeezed.
  fill_time_ = in_.nominal.pockets.empty() ? in_.nominal.fill_time : 0;
}

Obstacle Planner::obstacle() const {
  if (!flow::close_mold(in_.sheet, in_.verdict.nominal, in_.laminate, in_.flow).closes())
    return Obstacle::reinforcement_holds_open;
  const LaminateMap m = laminate::evaluate_laminate(in_.sheet, in_.verdict.nominal, in_.laminate);
  if (m.under_filled_area > kGoodPart * bench_.area()) return Obstacle::stack_cannot_fill;
  if (nominal_.empty() ? !in_.nominal.pockets.empty() : plan_.air_nominal.p > kMoreOftenThanNot)
    return Obstacle::layout_traps_air;
  return Obstacle::none;
}

/// Computes what each does by itself to the state as it is now.
std::vector<int> Planner::add(std::vector<Correction> fresh) {
  std::vector<int> out;
  const Effect before = base();
  parallel_for(
      fresh.size(),
      [&](std::size_t k) { fresh[k].after = bench_.effect(bench_.with(state_, fresh[k]), static_cast<int>(few_)); }, 1);
  const double now = by_hands(bench_.gap(state_), plan_.chosen.size()).mean;
  for (auto& c : fresh) {
    hands_.push_back({now, by_hands(bench_.gap(bench_.with(state_, c)), plan_.chosen.size(), &c).mean});
    c.before = before;
    c.benefit = (value(c.before) - value(c.after)) / c.effort;
    out.push_back(static_cast<int>(plan_.candidates.size()));
    plan_.candidates.push_back(std::move(c));
  }
  return out;
}

/// Takes a step if it gains something and harms nothing; `seen`: what it does, by a candidate's draws.
bool Planner::take(int k, const Effect& seen) {
  const Correction& c = plan_.candidates[k];
  const State next = bench_.with(state_, c);
  const auto first = worse(with_draws(effect_, seen.drawn.size()), seen, plan_.limits);
  if (first && *first != Uncured::dry_area) {  // no draw changes that
    harm_.insert_or_assign(k, *first);
    return false;
  }
  effect_ = with_draws(std::move(effect_), kStepDraws);
  Effect after = bench_.effect(next, std::min(bench_.all_draws(), static_cast<int>(kStepDraws)), seen.drawn);
  if (const auto harm = worse(effect_, after, plan_.limits)) {
    harm_.insert_or_assign(k, *harm);
    return false;
  }
  const double gain = value(effect_) - value(after);
  const bool cures = uncured(after, plan_.limits).size() < uncured(effect_, plan_.limits).size();
  const bool safer = std::isfinite(after.pocket) && effect_.pocket - after.pocket > plan_.limits.pocket &&
                     fewer_pockets(effect_.drawn, after.drawn);
  if (gain < kLeastGain && !cures && !safer) return false;
  harm_.erase(k);
  state_ = next, effect_ = std::move(after);
  plan_.chosen.push_back(k), plan_.after_each.push_back(effect_), states_.push_back(state_);
  return true;
}

/// Greedy, with the remaining candidates re-computed on top of what is chosen. Lazily (Minoux 1978): the promising one
/// is re-computed first and taken if it still beats what the others promised. What harms now may not harm once another
/// step is taken: it gets a second chance then.
void Planner::greedy(const std::vector<int>& which) {
  auto& list = plan_.candidates;
  std::vector<int> again = which;
  std::map<int, Effect> effects;
  std::map<int, double> promise;
  std::map<int, bool> fresh;           ///< computed on top of what is chosen
  std::map<int, std::size_t> refused;  ///< with so many steps chosen
  for (const int k : which) promise[k] = list[k].benefit, effects[k] = list[k].after, fresh[k] = true;
  for (bool more = true; more && !again.empty();) {
    more = false;
    const std::vector<int> now = std::move(again);
    again.clear();
    for (int p = 0; p < kPhases; ++p) {
      std::vector<int> open;
      for (const int k : now)
        if (phase(list[k]) == p) open.push_back(k);
      while (!open.empty() && !cured(effect_, plan_.limits)) {
        const auto top =
            std::max_element(open.begin(), open.end(), [&](int a, int b) { return promise[a] < promise[b]; });
        const int k = *top;
        const bool worked = on_reinforcement(list[k]) && !list[k].redesign &&
                            std::any_of(plan_.chosen.begin(), plan_.chosen.end(), [&](int c) {
                              return !list[c].region.empty() && list[c].region == list[k].region;
                            });
        if (worked) {
          open.erase(top);
          continue;
        }
        if (!fresh[k]) {
          effects[k] = bench_.effect(bench_.with(state_, list[k]), static_cast<int>(few_));
          promise[k] = (value(base()) - value(effects[k])) / list[k].effort;
          fresh[k] = true;
          continue;
        }
        open.erase(top);
        const auto before = refused.find(k);
        if ((before == refused.end() || before->second != plan_.chosen.size()) && take(k, effects[k])) {
          for (auto& [other, is] : fresh) is = false;
          more = true;
        } else {
          refused[k] = plan_.chosen.size();
          again.push_back(k);
        }
      }
    }
  }
}

/// Glass that does not suit the section comes before all work on the gap, which is computed with it.
void Planner::reinforcement_first() {
  greedy(add(stack_candidates(bench_, o_, state_)));
  const LaminateMap m = laminate::evaluate_laminate(in_.sheet, in_.verdict.nominal, state_.design);
  reinforcement_stands_ = m.under_filled_area <= kGoodPart * bench_.area() &&
                          flow::close_mold(in_.sheet, in_.verdict.nominal, state_.design, state_.flow).closes();
}

void Planner::layout(bool true_mold) {
  for (int step = 0; step < kLayoutSteps && !cured(effect_, plan_.limits); ++step) {
    auto found = layout_candidates(bench_, o_, state_, true_mold);
    if (step == 0 && true_mold && plan_.obstacle == Obstacle::layout_traps_air && o_.touch_tool)
      for (auto& c : port_candidates(in_, o_)) found.push_back(std::move(c));
    const std::size_t before = states_.size();
    greedy(add(std::move(found)));
    if (states_.size() == before) return;
  }
}

void Planner::list_candidates() {
  std::vector<Correction> list;
  if (auto c = shim_candidate(in_, o_, plan_.warnings)) list.push_back(std::move(*c));
  if (o_.touch_tool && plan_.obstacle != Obstacle::layout_traps_air)
    for (auto& c : port_candidates(in_, o_)) list.push_back(std::move(c));
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
  greedy(add(std::move(list)));
}

/// The chosen set with all draws and its own breathing; whatever then turns out to be worse than the tool as it is, is
/// dropped, the last step first.
void Planner::finish() {
  while (!plan_.chosen.empty()) {
    if (in_.breathing && in_.breathing->computed) {
      const auto gap = bench_.gap(state_);
      plan_.breathing_after =
          flow::breathe(in_.sheet, gap, state_.laminate, state_.flow, progress_, in_.breathing->filling.move);
      const Filling nominal = bench_.nominal(state_);
      const Filling& front = plan_.breathing_after.front;
      effect_ = bench_.describe(state_, gap, front, flow::compare_fillings(in_.sheet, nominal, front),
                                &plan_.breathing_after, bench_.all_draws());
    } else {
      effect_ = bench_.effect(state_, bench_.all_draws(), plan_.after_each.back().drawn);
    }
    const auto harm = worse(plan_.now, effect_, plan_.limits);
    if (!harm) {
      plan_.after_each.back() = effect_;
      break;
    }
    harm_.insert_or_assign(plan_.chosen.back(), *harm);
    plan_.chosen.pop_back(), plan_.after_each.pop_back(), states_.pop_back();
    plan_.breathing_after = {};
    state_ = states_.empty() ? bench_.now() : states_.back();
  }
  if (plan_.chosen.empty()) effect_ = plan_.now;
  plan_.after = effect_;
  plan_.air_after = air_chance(plan_.after.drawn);
  plan_.gap_after = bench_.gap(state_);
  plan_.laminate_after = state_.laminate, plan_.flow_after = state_.flow;
  if (state_.redesigned) plan_.nominal_arrival_after = bench_.nominal(state_).arrival;
  plan_.not_cured = uncured(plan_.after, plan_.limits);
}

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

/// "C1" is the one with the greatest benefit per hour.
void Planner::name_all() {
  std::vector<int> order(plan_.candidates.size());
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(),
                   [&](int a, int b) { return plan_.candidates[a].benefit > plan_.candidates[b].benefit; });
  std::vector<int> place(order.size());
  std::vector<Correction> sorted;
  for (std::size_t k = 0; k < order.size(); ++k) {
    place[order[k]] = static_cast<int>(k);
    sorted.push_back(std::move(plan_.candidates[order[k]]));
    sorted.back().name = "C" + std::to_string(k + 1);
  }
  plan_.candidates = std::move(sorted);
  for (int& k : plan_.chosen) k = place[k];
  std::map<int, Uncured> harm;
  for (const auto& [k, what] : harm_) harm[place[k]] = what;
  harm_ = std::move(harm);
}

void Planner::say_what_is_left() {
  const bool in_tolerance = std::count(plan_.not_cured.begin(), plan_.not_cured.end(), Uncured::tolerance) == 0;
  const auto why = [&](const DeviationRegion& r) -> const char* {
    if (in_tolerance) return "work.around-left-gap-within";
    if (!reinforcement_stands_) return "advice.around-left-first-glass";
    for (const auto& [k, what] : harm_) {
      if (!works_on(plan_.candidates[k], r.name)) continue;
      switch (what) {
        case Uncured::dry_area:
          return "advice.around-left-work-there";
        case Uncured::opening:
          return "advice.around-left-work-there-would";
        case Uncured::over_packed:
          return "advice.around-left-work-there-would-over";
        case Uncured::gel:
          return "advice.around-left-work-there-resin";
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
  for (const auto& [k, what] : harm_) ++refused_.worse[what];
  refused_.little = static_cast<int>(plan_.candidates.size() - plan_.chosen.size() - harm_.size());
  plan_.remains = remains_text(bench_, plan_, o_, refused_);
}

CorrectionPlan Planner::run() {
  begin();
  report_progress(progress_, "correct", 0.3);
  const bool reinforcement =
      plan_.obstacle == Obstacle::stack_cannot_fill || plan_.obstacle == Obstacle::reinforcement_holds_open;
  if (reinforcement) reinforcement_first();
  report_progress(progress_, "correct", 0.4);
  if (reinforcement_stands_) {
    if (plan_.obstacle == Obstacle::layout_traps_air) layout(true);
    report_progress(progress_, "correct", 0.6);
    list_candidates();
    report_progress(progress_, "correct", 0.8);
    if (!reinforcement && reinforcement_uncured()) greedy(add(stack_candidates(bench_, o_, state_)));
    // The layout of a true mold is put right where that is not good; then that of this one, if the gap is not cured.
    if (effect_.dry_area > plan_.limits.dry_area || effect_.pocket > plan_.limits.pocket)
      layout(plan_.obstacle != Obstacle::layout_traps_air && plan_.air_nominal.low > kLeastPocket);
  }
  finish();
  carry_out();
  name_all();
  say_what_is_left();
  for (const int k : plan_.chosen) add_details(in_, o_, plan_.candidates[k]);
  report_progress(progress_, "correct", 1);
  return std::move(plan_);
}

}  // namespace

CorrectionPlan plan_corrections(const CorrectInput& in, const CorrectOptions& o, const Progress& progress) {
  return Planner(in, o, progress).run();
}

}  // namespace gapfront::correct
