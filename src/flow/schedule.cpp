// Advice: how fast to inject so that the inlet stays under its limit all the way.
#include <algorithm>
#include <cmath>
#include <limits>

#include "gapfront/error.hpp"
#include "gapfront/flow.hpp"

namespace gapfront {
namespace {

constexpr int points = 60;               // places on the curve where a step may begin: finer than a person sets a pump
constexpr int most_steps = 5;            // more cannot be kept by hand
constexpr double worth = 0.05;           // one step more must save this share of the fill time
constexpr double filled_enough = 0.995;  // the curve's end: after it the front closes on single nodes

struct Curve {
  std::vector<double> volume, rate;  // rate at which the inlet just meets the allowed pressure
};

Curve resistance_curve(const Filling& f) {
  Curve c;
  double end = f.history.back().filled * filled_enough, least = std::numeric_limits<double>::infinity();
  const double total = f.injected / std::max(f.history.back().filled, 1e-300);
  std::size_t k = 0;
  for (int i = 0; i <= points; ++i) {
    const double share = end * i / points;
    for (; k < f.history.size() && f.history[k].filled <= share; ++k) least = std::min(least, f.history[k].rate);
    if (!std::isfinite(least)) least = f.history.front().rate;
    c.volume.push_back(share * total);
    c.rate.push_back(least);  // running least: the resistance only grows
  }
  return c;
}

// Least total time with k steps, each at the rate allowed at its end (dynamic programming over the curve's points).
std::vector<RateStep> best_steps(const Curve& c, int k, double cap, double& time) {
  const int n = static_cast<int>(c.volume.size());
  const double none = std::numeric_limits<double>::infinity();
  std::vector<std::vector<double>> cost(k + 1, std::vector<double>(n, none));
  std::vector<std::vector<int>> from(k + 1, std::vector<int>(n, 0));
  cost[0][0] = 0;
  const auto rate = [&](int j) { return std::min(cap, c.rate[j]); };
  for (int s = 1; s <= k; ++s)
    for (int j = 1; j < n; ++j)
      for (int i = 0; i < j; ++i)
        if (const double t = cost[s - 1][i] + (c.volume[j] - c.volume[i]) / rate(j); t < cost[s][j])
          cost[s][j] = t, from[s][j] = i;
  time = cost[k][n - 1];
  std::vector<RateStep> steps;
  for (int s = k, j = n - 1; s > 0; j = from[s][j], --s) steps.push_back({c.volume[from[s][j]], rate(j)});
  std::reverse(steps.begin(), steps.end());
  return steps;
}

}  // namespace

std::vector<RateStep> recommend_schedule(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                                         double safety) {
  if (!(safety > 0 && safety <= 1)) throw Error(Fault::input, "flow: the schedule's safety factor must be in (0, 1]");
  FlowOptions o = options;
  o.schedule.clear();
  o.pressure_limit = options.pressure_limit * safety;
  const Filling full = fill(sheet, laminate, o);
  if (full.history.empty() || !(full.history.back().filled > 0)) return {};
  const Curve curve = resistance_curve(full);
  // A pump that is already in use is taken to do no more than its fastest step.
  double cap = std::numeric_limits<double>::infinity();
  for (const auto& s : options.schedule) cap = std::isfinite(cap) ? std::max(cap, s.rate) : s.rate;
  double time = 0;
  auto steps = best_steps(curve, 2, cap, time);
  for (int k = 3; k <= most_steps; ++k) {
    double faster = 0;
    auto more = best_steps(curve, k, cap, faster);
    if (faster > (1 - worth) * time) break;
    steps = std::move(more), time = faster;
  }
  // The curve belongs to a constant pressure; the schedule's own fill decides, and too fast a step is slowed.
  o.pressure_limit = options.pressure_limit;
  for (int pass = 0; pass < 3; ++pass) {
    o.schedule = steps;
    const Filling f = fill(sheet, laminate, o);
    bool held = true;
    for (std::size_t s = 0; s < steps.size(); ++s) {
      double peak = 0;
      const double to = s + 1 < steps.size() ? steps[s + 1].from : curve.volume.back();
      for (const auto& h : f.history) {
        const double v = h.filled * full.injected / full.history.back().filled;
        if (v >= steps[s].from && v < to) peak = std::max(peak, h.inlet_pressure);
      }
      const double allowed = options.pressure_limit * safety, gauge = atmosphere_pa - o.cavity_pressure;
      if (peak > allowed * 1.005) held = false, steps[s].rate *= 0.99 * (allowed + gauge) / (peak + gauge);
    }
    if (held) break;
  }
  return steps;
}

}  // namespace gapfront
