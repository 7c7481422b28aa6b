// Which candidates are taken: greedily, each on top of what is chosen.
#include <algorithm>
#include <cmath>
#include <map>

#include "core/parallel.hpp"
#include "correct/planner.hpp"

namespace gapfront::correct {
namespace {

// Gains under half a percent of area or of fill time are within what the flow's mesh resolves (1 % of fill time, the
// bar for closed forms), so a step that gains less is not recommended. The gap's own U is seen to before: regions are
// provably out, and shims are considered only for a rigid part that exceeds its U.
constexpr double kLeastGain = 0.005;
// Fillings drawn for a step that is about to be taken, compared in pairs with those of the state before it. Where they
// promise something and do not prove it, as many are drawn as the job says: of 64, five cleared and none made are proof,
// which 24 show of one step in three only.
constexpr int kStepDraws = 24;

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

}  // namespace

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
    c.saving = saved(c.before, c.after, c.effort);
    out.push_back(static_cast<int>(plan_.candidates.size()));
    plan_.candidates.push_back(std::move(c));
  }
  return out;
}

/// Whether the step is worse than what is there, by as many draws as both have; keeps why.
bool Planner::harms(int k, const Effect& before, const Effect& after) {
  const auto harm = worse(with_draws(before, after.drawn.size()), after, plan_.limits);
  if (harm) harm_.insert_or_assign(k, *harm);
  return harm.has_value();
}

/// Whether the run's expected cost falls, provably in what it falls by: area, lead or force by more than the mesh
/// resolves, or air by the draws. What puts something right for good is done whatever it saves: a tolerance is a
/// requirement.
bool Planner::pays(const Correction& c, const Effect& before, const Effect& after) const {
  const auto left = uncured(before, plan_.limits), then = uncured(after, plan_.limits);
  const auto dry = [](const std::vector<Uncured>& u) { return std::count(u.begin(), u.end(), Uncured::dry_area) > 0; };
  const bool drawn = std::isfinite(after.pocket), safer = drawn && fewer_pockets(before.drawn, after.drawn);
  const bool driest = dry(left) && !dry(then) && drawn && !safer && before.dry_area <= plan_.limits.dry_area;
  if (then.size() + driest < left.size()) return true;
  return (safer || value(before) - value(after) >= kLeastGain) && saved(before, after, c.effort).mean > 0;
}

/// Takes a step if it pays and harms nothing; `seen`: what it does, by a candidate's draws. Where few draws do not tell
/// and more might, more are drawn, for both states alike.
bool Planner::take(int k, const Effect& seen) {
  const Correction& c = plan_.candidates[k];
  const State next = bench_.with(state_, c);
  if (!seen.settled) {
    unsettled_.push_back(k);
    return false;
  }
  const auto first = worse(with_draws(effect_, seen.drawn.size()), seen, plan_.limits);
  if (first && *first != Uncured::dry_area) {  // no draw changes that
    harm_.insert_or_assign(k, *first);
    return false;
  }
  Effect after = seen;
  bool good = false;
  for (const int draws : {std::min(bench_.all_draws(), kStepDraws), bench_.all_draws()}) {
    if (draws == static_cast<int>(after.drawn.size()) && draws > 0) break;
    effect_ = bench_.drawn(state_, std::move(effect_), std::max(draws, static_cast<int>(effect_.drawn.size())));
    after = bench_.drawn(next, std::move(after), draws);
    const Effect before = with_draws(effect_, after.drawn.size());
    if (harms(k, before, after)) return false;
    good = pays(c, before, after);
    // What so few draws show no gain of shows none by more.
    if (good || !(saved(before, after, c.effort).mean > 0)) break;
  }
  std::vector<int> steps = plan_.chosen;
  steps.push_back(k);
  remember(steps, after);
  if (!good) return false;
  harm_.erase(k);
  effect_ = std::move(after), state_ = next;
  plan_.chosen = std::move(steps), plan_.after_each.push_back(effect_), states_.push_back(state_);
  return true;
}

/// Keeps a set that was computed with all draws.
void Planner::remember(std::vector<int> steps, const Effect& e) {
  if (static_cast<int>(e.drawn.size()) < bench_.all_draws()) return;
  PlanOption option;
  option.steps = std::move(steps);
  option.hours = hours(option.steps), option.air = air_chance(e.drawn);
  option.bad = chance_of_a_bad_part(e, plan_.limits, scale());
  option.cost = option.hours * o_.cost.rate + o_.cost.scrap * option.bad * o_.cost.parts;
  plan_.options.push_back(std::move(option));
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
  for (const int k : which) promise[k] = list[k].saving.mean, effects[k] = list[k].after, fresh[k] = true;
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
          promise[k] = saved(base(), effects[k], list[k].effort).mean;
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

}  // namespace gapfront::correct
