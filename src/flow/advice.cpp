// Advice: how fast to inject so that the inlet stays under its limit, and the mold shut, all the way.
#include <algorithm>
#include <cmath>
#include <limits>

#include "flow/watched.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();
constexpr int points = 60;               // places on the curve where a step may begin: finer than a person sets a pump
constexpr int most_steps = 5;            // more cannot be kept by hand
constexpr double worth = 0.05;           // one step more must save this share of the fill time
constexpr double filled_enough = 0.995;  // the curve's end: after it the front closes on single nodes
constexpr int most_runs = 6;             // of the advised fill; each slows the steps that were too fast
constexpr double loose = 0.005;          // a limit is held when it is met to half a per cent
constexpr double aim = 1.02;             // times the safety asked for, so that what `loose` takes leaves that much

struct Curve {
  std::vector<double> volume, rate;  ///< rate at which the first limit is just met
  std::vector<char> opening;         ///< 1: that limit is the opening margin
};

/// A fill, and at each of its steps the share of its drive that keeps the inlet at `most` and the mold shut.
struct Watched {
  Filling filling;
  std::vector<std::pair<double, double>> share;  ///< (time, share by the opening margin)
};
Watched run(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o) {
  Watched w;
  OpeningWatch opening(sheet, laminate, o);
  double inlet = o.cavity_pressure;
  w.filling = fill_watched(sheet, laminate, o, [&](double time, double at_inlet, const std::vector<double>& pressure) {
    opening.see(time, pressure), inlet = at_inlet;
    w.share.emplace_back(time, opening.allowed(pressure, aim * o.closing.safety, o.closing.everywhere));
  });
  w.filling.opening = opening.finish(w.filling.fill_time, inlet);
  return w;
}

/// The opening's share at the times of the fill's own history, which may be thinned, and whose samples stand in the
/// middle of a step where the share stands at its end: the least since the sample before.
std::vector<double> at_history(const Watched& w) {
  std::vector<double> out;
  std::size_t k = 0;
  for (const auto& h : w.filling.history) {
    double least = never;
    for (bool in = true; in && k < w.share.size(); ++k)
      in = w.share[k].first < h.time, least = std::min(least, w.share[k].second);
    out.push_back(std::isfinite(least) ? least : out.empty() ? 1 : out.back());
  }
  return out;
}

Curve resistance_curve(const Watched& w) {
  const auto& f = w.filling;
  const auto share = at_history(w);
  Curve c;
  const double end = f.history.back().filled * filled_enough;
  const double total = f.injected / std::max(f.history.back().filled, 1e-300);
  double least = never;
  char opening = 0;
  std::size_t k = 0;
  for (int i = 0; i <= points; ++i) {
    const double filled = end * i / points;
    for (; k < f.history.size() && (f.history[k].filled <= filled || k == 0); ++k)
      if (const double rate = f.history[k].rate * std::min(1.0, share[k]); rate < least)
        least = rate, opening = share[k] < 1;
    c.volume.push_back(filled * total);
    c.rate.push_back(least);  // running least: the resistance only grows
    c.opening.push_back(opening);
  }
  return c;
}

// Least total time with k steps, each at the rate allowed at its end (dynamic programming over the curve's points).
std::vector<RateStep> best_steps(const Curve& c, int k, double cap, double& time, bool& by_opening) {
  const int n = static_cast<int>(c.volume.size());
  std::vector<std::vector<double>> cost(k + 1, std::vector<double>(n, never));
  std::vector<std::vector<int>> from(k + 1, std::vector<int>(n, 0));
  cost[0][0] = 0;
  const auto rate = [&](int j) { return std::min(cap, c.rate[j]); };
  for (int s = 1; s <= k; ++s)
    for (int j = 1; j < n; ++j)
      for (int i = 0; i < j; ++i)
        if (const double t = cost[s - 1][i] + (c.volume[j] - c.volume[i]) / rate(j); t < cost[s][j])
          cost[s][j] = t, from[s][j] = i;
  time = cost[k][n - 1];
  by_opening = false;
  std::vector<RateStep> steps;
  for (int s = k, j = n - 1; s > 0; j = from[s][j], --s) {
    steps.push_back({c.volume[from[s][j]], rate(j)});
    by_opening = by_opening || (c.opening[j] && c.rate[j] <= cap);
  }
  std::reverse(steps.begin(), steps.end());
  return steps;
}

ScheduleResult summary(const Filling& f) {
  ScheduleResult r;
  r.fill_time = f.fill_time;
  for (const auto& h : f.history) r.peak_pressure = std::max(r.peak_pressure, h.inlet_pressure);
  r.least_margin = f.opening.force.margin();
  r.least_safety = f.opening.force.safety();
  r.least_local = f.opening.place.least;
  for (const auto& p : f.pockets) r.dry_area += p.area;
  return r;
}

/// Slows every step that broke a limit, to what would have kept it; false if one did.
bool held(const Watched& w, double allowed, double vacuum, double end, std::vector<RateStep>& steps) {
  const auto& f = w.filling;
  const auto share = at_history(w);
  const double total = f.injected / std::max(f.history.back().filled, 1e-300);
  bool all = true;
  for (std::size_t s = 0; s < steps.size(); ++s) {
    const double to = s + 1 < steps.size() ? steps[s + 1].from : end;
    double least = 1;
    for (std::size_t k = 0; k < f.history.size(); ++k) {
      const double v = f.history[k].filled * total;
      if (v < steps[s].from || v >= to) continue;
      least = std::min({least, share[k], (allowed + vacuum) / (f.history[k].inlet_pressure + vacuum)});
    }
    if (least < 1 - loose) all = false, steps[s].rate *= 0.99 * least;
  }
  return all;
}

}  // namespace

ProcessAdvice advise_process(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                             const Filling& own, double safety) {
  if (!(safety > 0 && safety <= 1)) throw Error(Fault::input, "flow: the schedule's safety factor must be in (0, 1]");
  ProcessAdvice advice;
  advice.own = summary(own);
  FlowOptions o = options;
  o.schedule.clear();
  o.pressure_limit = options.pressure_limit * safety;
  const Watched full = run(sheet, laminate, o);
  if (full.filling.history.empty() || !(full.filling.history.back().filled > 0)) return advice;
  const Curve curve = resistance_curve(full);
  if (!(curve.rate.back() > 0)) {
    advice.notes.push_back(
        "no flow rate keeps the mold shut with the safety wanted: the glass alone takes up the clamping; see to the "
        "gap, the glass or the clamping first");
    return advice;
  }
  // A pump that is already in use is taken to do no more than its fastest step.
  double cap = never;
  for (const auto& s : options.schedule) cap = std::isfinite(cap) ? std::max(cap, s.rate) : s.rate;
  double time = 0;
  auto steps = best_steps(curve, 2, cap, time, advice.bound_by_opening);
  for (int k = 3; k <= most_steps; ++k) {
    double faster = 0;
    bool by_opening = false;
    auto more = best_steps(curve, k, cap, faster, by_opening);
    if (faster > (1 - worth) * time) break;
    steps = std::move(more), time = faster, advice.bound_by_opening = by_opening;
  }
  // The curve belongs to a constant pressure; the schedule's own fill decides, and too fast a step is slowed.
  o.pressure_limit = options.pressure_limit;
  const double vacuum = atmosphere_pa - o.cavity_pressure;
  for (int k = 0; k < most_runs; ++k) {
    o.schedule = steps;
    const Watched w = run(sheet, laminate, o);
    advice.advised = summary(w.filling);
    advice.steps = o.schedule;
    if (held(w, options.pressure_limit * safety, vacuum, curve.volume.back(), steps)) return advice;
  }
  advice.notes.push_back(
      "the advised schedule comes closer to a limit than the safety wanted; take its last step slower");
  return advice;
}

}  // namespace gapfront
