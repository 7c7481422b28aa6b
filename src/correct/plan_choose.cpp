// Which candidates are taken: greedily, each on top of what is chosen.
#include <algorithm>
#include <cmath>
#include <iterator>
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
// promise something and do not prove it, as many are drawn as the job says: of 64, five cleared and none made are
// proof.
constexpr int kStepDraws = 24;
// Of each round of candidates so many get all draws without having proven anything before: the leading ones.
constexpr int kLeaders = 3;

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

}  // namespace

/// What candidates are ranked by: money that the run is spared, or what is taken off the loss per hour of work.
double Planner::gain(const Effect& before, const Effect& after, double hours) const {
  return o_.prices.decide() ? saved(before, after, hours).mean : (value(before) - value(after)) / hours;
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
    if (o_.prices.decide()) c.saving = saved(c.before, c.after, c.effort);
    out.push_back(static_cast<int>(plan_.candidates.size()));
    plan_.candidates.push_back(std::move(c)), added_at_.push_back(plan_.chosen.size());
  }
  return out;
}

/// Whether the step is worse than what is there, by as many draws as both have; keeps why.
bool Planner::harms(int k, const Effect& before, const Effect& after) {
  const auto harm = harm_of(works_gap(plan_.candidates[k]), with_draws(before, after.drawn.size()), after);
  if (harm) harm_.insert_or_assign(k, *harm);
  return harm.has_value();
}

/// With so many drawn fillings at the least. No work on the gap changes it, so it is kept for all of that.
const Planner::TrueMold& Planner::true_mold(int draws) {
  std::vector<int> layout;
  for (const int k : plan_.chosen)
    if (plan_.candidates[k].redesign) layout.push_back(k);
  if (!true_mold_ || true_mold_->layout != layout)
    true_mold_ =
        TrueMold{std::move(layout), bench_.nominal(state_), state_.redesigned ? std::vector<DrawnFill>{} : nominal_};
  if (state_.redesigned && static_cast<int>(true_mold_->drawn.size()) < draws)
    true_mold_->drawn = bench_.drawn_nominal(state_, true_mold_->filling, draws);
  return *true_mold_;
}

/// What is worse after than before. Work on the gap makes the mold what it was meant to be: where that traps air as
/// well with these inlets, vents and glass, they are to blame, and are put right by themselves.
std::optional<Uncured> Planner::harm_of(bool on_gap, const Effect& before, const Effect& after) {
  const auto harm = worse(before, after, plan_.limits);
  if (!on_gap || harm != Uncured::dry_area) return harm;
  const auto draws = after.drawn.size();
  const TrueMold& mold = true_mold(static_cast<int>(draws));
  Effect meant = before;
  meant.dry_area = flow::dry_area(mold.filling);
  meant.drawn = mold.drawn;
  return worse(with_draws(std::move(meant), draws), after, plan_.limits);
}

/// Whether a step is worth its work: it cures something, or gains more than the mesh resolves, or provably traps air
/// less often; and where prices decide, the run becomes cheaper too. What puts a tolerance or the closing right is done
/// whatever it saves: they are required.
bool Planner::pays(const Correction& c, const Effect& before, const Effect& after) const {
  const auto left = uncured(before, plan_.limits), then = uncured(after, plan_.limits);
  // Neither an earlier front nor a port is bought with air that is trapped more often, proven or not.
  const bool riskier = after.pocket - before.pocket > plan_.limits.pocket;
  if (riskier && c.face == "port") return false;
  // What shuts a mold that opens is worth it whatever chance of a dry spot is then told in its place.
  if (before.closing_balance < 1 && after.closing_balance >= 1) return true;
  // A part that gels unfilled is none, however far the resin came.
  const bool vain = c.redesign && before.gel_fraction > 1 && after.gel_fraction > 1;
  const bool safer = !vain && promises(before, after) && fewer_pockets(before.drawn, after.drawn);
  const bool gains = !vain && value(before) - value(after) >= kLeastGain;
  // Of a region's size: what is provably outside is put right however little of the whole face it is.
  const bool mends = before.nonconforming_area - after.nonconforming_area >= in_.tolerance.min_region_area;
  const auto leads = [](const std::vector<Uncured>& u) { return std::count(u.begin(), u.end(), Uncured::lead) > 0; };
  if (riskier) return then.size() - leads(then) < left.size() - leads(left) || mends;
  if (!o_.prices.decide()) return then.size() < left.size() || gains || safer || mends;
  const auto dry = [](const std::vector<Uncured>& u) { return std::count(u.begin(), u.end(), Uncured::dry_area) > 0; };
  const auto required = [&](const std::vector<Uncured>& u) { return u.size() - dry(u); };
  return required(then) < required(left) || mends || ((gains || safer) && saved(before, after, c.effort).mean > 0);
}

/// Whether a step seems to trap air less often by so much that it counts; where prices decide `pays` has the money.
bool Planner::promises(const Effect& before, const Effect& after) const {
  if (!std::isfinite(after.pocket)) return false;
  return before.pocket - after.pocket > (o_.prices.decide() ? 0 : plan_.limits.pocket);
}

/// The present state with at least so many drawn fillings.
void Planner::draw_as_often(int draws) {
  if (static_cast<int>(effect_.drawn.size()) >= draws) return;
  effect_ = bench_.drawn(state_, std::move(effect_), draws);
  if (!plan_.after_each.empty()) plan_.after_each.back() = effect_;
}

/// Whether nothing is left to cure, by all draws: where one part in ten traps air, the few of a step may show none.
bool Planner::surely_done() {
  if (done()) draw_as_often(bench_.all_draws());
  return done();
}

/// Takes a step if it pays and harms nothing; `seen`: what it does, by a candidate's draws. Where few draws promise
/// what they do not prove, all are made, for both states alike.
bool Planner::take(int k, const Effect& seen, int& full) {
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
  const int all = bench_.all_draws(), few = std::min(all, kStepDraws);
  for (const int draws : {few, all}) {
    draw_as_often(draws);
    after = bench_.drawn(next, std::move(after), draws);
    const Effect before = with_draws(effect_, after.drawn.size());
    if (harms(k, before, after)) return false;
    good = pays(c, before, after);
    // What cures one thing and seems to trap air more often has to show with all draws that it does not.
    if (good && after.pocket > before.pocket) continue;
    if (good || draws == all || !seems_drier(before, after) || full-- <= 0) break;
  }
  std::vector<int> steps = plan_.chosen;
  steps.push_back(k);
  remember(steps, after);
  if (!good) return false;
  harm_.erase(k);
  // A candidate's few draws may have told a loss.
  if (o_.prices.decide()) plan_.candidates[k].saving = saved(with_draws(effect_, after.drawn.size()), after, c.effort);
  effect_ = std::move(after), state_ = next;
  plan_.chosen = std::move(steps), plan_.after_each.push_back(effect_), states_.push_back(state_);
  return true;
}

/// Keeps a set that was computed with all draws.
void Planner::remember(std::vector<int> steps, const Effect& e) {
  if (static_cast<int>(e.drawn.size()) < bench_.all_draws() || !e.settled) return;
  PlanOption option;
  option.steps = std::move(steps);
  option.hours = hours(option.steps), option.air = air_chance(e.drawn);
  option.bad = chance_of_a_bad_part(e, plan_.limits, scale());
  if (o_.prices.decide())
    option.cost = option.hours * o_.prices.hour + cost_of_run(e, o_.prices, plan_.limits, scale());
  plan_.options.push_back(std::move(option));
}

/// What is known of candidates while they are chosen from.
struct Planner::Race {
  std::map<int, Effect> effects;
  std::map<int, double> promise;
  std::map<int, bool> fresh;           ///< computed on top of what is chosen
  std::map<int, std::size_t> refused;  ///< with so many steps chosen
};

/// Makes sure that the one that leads deserves it; false: it has to lead again. Computed on top of what is chosen; and
/// where ports and glass are alternatives to each other, with the draws of a step, as the leader of few draws is often
/// their luck (successive halving by common random numbers: Karnin, Koren & Somekh 2013, with one halving).
bool Planner::leads_surely(int k, Race& race) {
  const Correction& c = plan_.candidates[k];
  Effect& e = race.effects[k];
  if (!race.fresh[k]) {
    e = bench_.effect(bench_.with(state_, c), static_cast<int>(few_));
    race.promise[k] = gain(base(), e, c.effort);
    race.fresh[k] = true;
    return false;
  }
  const int draws = std::min(bench_.all_draws(), kStepDraws);
  if (!c.redesign || few_ == 0 || static_cast<int>(e.drawn.size()) >= draws || !e.settled) return true;
  draw_as_often(draws);
  e = bench_.drawn(bench_.with(state_, c), std::move(e), draws);
  race.promise[k] = gain(with_draws(effect_, static_cast<std::size_t>(draws)), e, c.effort);
  return false;
}

/// Glass on a region that work on the face has put right already.
bool Planner::worked_already(int k) const {
  const auto& list = plan_.candidates;
  return on_reinforcement(list[k]) && !list[k].redesign &&
         std::any_of(plan_.chosen.begin(), plan_.chosen.end(),
                     [&](int c) { return !list[c].region.empty() && list[c].region == list[k].region; });
}

/// Greedy, with the remaining candidates re-computed on top of what is chosen. Lazily (Minoux 1978): the promising one
/// is re-computed first and taken if it still beats what the others promised. What harms now may not harm once another
/// step is taken: it gets a second chance then.
void Planner::greedy(const std::vector<int>& which) {
  auto& list = plan_.candidates;
  std::vector<int> again;  // none twice: ports are offered with the layout and at the end
  std::copy_if(which.begin(), which.end(), std::back_inserter(again),
               [&](int k) { return std::find(plan_.chosen.begin(), plan_.chosen.end(), k) == plan_.chosen.end(); });
  Race race;
  int full = kLeaders;
  for (const int k : which)
    race.promise[k] = gain(list[k].before, list[k].after, list[k].effort), race.effects[k] = list[k].after,
    race.fresh[k] = added_at_[static_cast<std::size_t>(k)] == plan_.chosen.size();
  for (bool more = true; more && !again.empty();) {
    more = false;
    const std::vector<int> now = std::move(again);
    again.clear();
    for (int p = 0; p < kPhases; ++p) {
      std::vector<int> open;
      for (const int k : now)
        if (phase(list[k]) == p) open.push_back(k);
      while (!open.empty() && !done()) {
        const auto top =
            std::max_element(open.begin(), open.end(), [&](int a, int b) { return race.promise[a] < race.promise[b]; });
        const int k = *top;
        if (worked_already(k)) {
          open.erase(top);
          continue;
        }
        if (!leads_surely(k, race)) continue;
        open.erase(top);
        const auto before = race.refused.find(k);
        if ((before == race.refused.end() || before->second != plan_.chosen.size()) && take(k, race.effects[k], full)) {
          for (auto& [other, is] : race.fresh) is = false;
          more = true;
        } else {
          race.refused[k] = plan_.chosen.size();
          again.push_back(k);
        }
      }
    }
  }
}

/// What did harm with the layout as it was may do none now.
void Planner::offer_again() {
  std::vector<int> which;
  for (const int k : worked_)
    if (harm_.count(k) > 0) which.push_back(k);
  greedy(which);
}

}  // namespace gapfront::correct
