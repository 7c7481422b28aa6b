// What stands once in a plan: a vent that several steps work on, and the same work found for several states.
#include <algorithm>
#include <cmath>

#include "core/places.hpp"
#include "correct/planner.hpp"

namespace gapfront::correct {
namespace {

// Ports nearer than this are one, mm (own choice: about as well as one is set by hand).
constexpr double kSamePlace = 5;
// Settings that differ by less than this share are one (as fills count as alike, own choice).
constexpr double kSameSetting = 0.005;

bool about(double a, double b) { return std::abs(a - b) <= kSameSetting * std::max(std::abs(a), std::abs(b)); }

/// Limits of a pump that lie no farther apart than it is set are one: on its gauge they read alike.
bool same_setting(const Correction& a, const Correction& b) {
  const bool limit = a.kind == Kind::lower_limit || a.kind == Kind::pump_steps;
  return about(a.setting, b.setting) || (limit && std::abs(a.setting - b.setting) <= kPumpStep * (1 + 1e-6));
}

bool same_places(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](const Vec3& p, const Vec3& q) { return (p - q).norm() < kSamePlace; });
}

bool same_schedule(const std::vector<RateStep>& a, const std::vector<RateStep>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const RateStep& s, const RateStep& t) {
    return about(s.from, t.from) && about(s.rate, t.rate);
  });
}

bool same_glass(const Correction& a, const Correction& b) {
  const auto zones = [](const LaminateZone& s, const LaminateZone& t) {
    return s.name == t.name && same_places(s.where.polygon, t.where.polygon);
  };
  const auto plies = [](const Ply& s, const Ply& t) {
    return s.reinforcement.name == t.reinforcement.name && about(s.count, t.count) &&
           about(s.direction_deg, t.direction_deg);
  };
  return a.packed == b.packed && a.cut == b.cut && about(a.mass, b.mass) &&
         std::equal(a.added.begin(), a.added.end(), b.added.begin(), b.added.end(), zones) &&
         std::equal(a.stack.begin(), a.stack.end(), b.stack.begin(), b.stack.end(), plies);
}

bool holds(const std::vector<int>& list, int k) { return std::find(list.begin(), list.end(), k) != list.end(); }

}  // namespace

bool same_work(const Correction& a, const Correction& b) {
  const bool named = a.kind != Kind::vent_add && a.kind != Kind::inlet_add;
  return a.redesign && b.redesign && a.kind == b.kind && (!named || a.port == b.port) &&
         same_places(a.port_to, b.port_to) && about(a.port_radius, b.port_radius) && same_setting(a, b) &&
         about(a.gel_time, b.gel_time) && same_schedule(a.schedule, b.schedule) && same_glass(a, b);
}

Correction vent_at_once(const Correction& first, const Correction& last, double mouth) {
  // A wider mouth is no work of its own where the vent is bored anew.
  Correction c = first.kind == Kind::vent_enlarge ? last : first;
  c.port_to = last.port_to, c.centre = mean_place(c.port_to);
  c.port_radius = last.port_radius > 0 ? last.port_radius : first.port_radius;
  const auto name = arg::name(c.port);
  const auto at = arg::place(c.port_to.front());
  const auto wide = arg::length(2 * c.port_radius, 0), before = arg::length(2 * mouth, 0);
  const auto work = [&] {
    if (c.kind == Kind::vent_add) return Message("advice.add-vent-mouth", {name, at, wide});
    if (c.kind == Kind::vent_enlarge) return Message("advice.open-mouth-vent-from", {name, before, wide});
    if (c.port_radius > 0) return Message("advice.move-vent-mouth", {name, at, wide, before});
    return Message("advice.move-vent", {name, at});
  };
  c.instruction = {first.instruction.front(), work()};
  return c;
}

/// With what it does by itself in place of a chosen step.
Correction Planner::tried_again(Correction c, std::size_t step) const {
  const State before = step > 0 ? states_[step - 1] : bench_.now();
  c.before = with_draws(step > 0 ? plan_.after_each[step - 1] : plan_.now, few_);
  c.after = bench_.effect(bench_.with(before, c), static_cast<int>(c.before.drawn.size()));
  c.benefit = (value(c.before) - value(c.after)) / c.effort;
  if (o_.prices.decide()) c.saving = saved(c.before, c.after, c.effort);
  return c;
}

/// Radius of a vent's mouth before a chosen step; 0: there is no such vent yet.
double Planner::mouth_before(const std::string& vent, std::size_t step) const {
  const State before = step > 0 ? states_[step - 1] : bench_.now();
  for (const Vent& v : before.flow.vents)
    if (v.name == vent) return v.radius;
  return 0;
}

/// A vent that several steps work on is bored once, as it is in the end: a mouth that is opened and then plugged is
/// work for nothing. The state that comes of it is the same; those between are computed with it.
void Planner::merge_vents() {
  auto& chosen = plan_.chosen;
  const auto bores = [](Kind k) { return k == Kind::vent_add || k == Kind::vent_enlarge || k == Kind::vent_move; };
  for (std::size_t j = 1; j < chosen.size(); ++j) {
    const Correction& last = plan_.candidates[chosen[j]];
    if (last.kind != Kind::vent_enlarge && last.kind != Kind::vent_move) continue;
    const auto found = std::find_if(chosen.begin(), chosen.begin() + static_cast<std::ptrdiff_t>(j), [&](int k) {
      return bores(plan_.candidates[k].kind) && plan_.candidates[k].port == last.port;
    });
    const auto i = static_cast<std::size_t>(found - chosen.begin());
    if (i == j) continue;
    const int first = chosen[i], second = chosen[j], once = static_cast<int>(plan_.candidates.size());
    Correction c = tried_again(vent_at_once(plan_.candidates[first], last, mouth_before(last.port, i)), i);
    const double now = by_hands(bench_.gap(states_[i]), i).mean;  // no vent changes the gap
    hands_.push_back({now, now}), added_at_.push_back(i);
    plan_.candidates.push_back(std::move(c));
    dropped_.insert(dropped_.end(), {first, second});
    chosen[i] = once, chosen.erase(chosen.begin() + static_cast<std::ptrdiff_t>(j));
    for (std::size_t k = i; k + 1 < j; ++k) {
      states_[k] = bench_.with(k > 0 ? states_[k - 1] : bench_.now(), plan_.candidates[chosen[k]]);
      plan_.after_each[k] = bench_.effect(states_[k], static_cast<int>(plan_.after_each[k].drawn.size()));
    }
    states_.erase(states_.begin() + static_cast<std::ptrdiff_t>(j - 1));
    plan_.after_each.erase(plan_.after_each.begin() + static_cast<std::ptrdiff_t>(j - 1));
    for (PlanOption& p : plan_.options) {
      if (!holds(p.steps, first) || !holds(p.steps, second)) continue;
      const double before = hours(p.steps);
      std::replace(p.steps.begin(), p.steps.end(), first, once);
      std::erase(p.steps, second);
      p.hours = hours(p.steps);
      if (o_.prices.decide()) p.cost -= o_.prices.hour * (before - p.hours);
    }
    --j;
  }
}

/// Of work that was found for several states, and is chosen for none or one of them, one is told.
void Planner::drop_twins() {
  const int n = static_cast<int>(plan_.candidates.size());
  const auto gone = [&](int k) { return holds(dropped_, k); };
  for (int k = 0; k < n; ++k) {
    if (gone(k) || holds(plan_.chosen, k)) continue;
    for (int twin = 0; twin < n; ++twin) {
      if (twin == k || gone(twin) || !same_work(plan_.candidates[k], plan_.candidates[twin])) continue;
      if (twin > k && !holds(plan_.chosen, twin)) continue;
      for (PlanOption& p : plan_.options) std::replace(p.steps.begin(), p.steps.end(), k, twin);
      dropped_.push_back(k);
      break;
    }
  }
  // A vent as it was before it was widened may still be a plan by itself.
  std::erase_if(dropped_, [&](int k) {
    return std::any_of(plan_.options.begin(), plan_.options.end(),
                       [&](const PlanOption& p) { return holds(p.steps, k); });
  });
  for (const int k : dropped_) harm_.erase(k);
  std::erase_if(unsettled_, gone);
}

}  // namespace gapfront::correct
