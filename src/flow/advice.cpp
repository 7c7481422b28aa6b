// Advice: how fast to inject so that the inlet stays under its limit, and the mold shut, all the way.
#include <algorithm>
#include <cmath>

#include "flow/arrival.hpp"
#include "flow/changes.hpp"
#include "flow/margin.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

constexpr int kPoints = 60;              // places on the curve where a step may begin: finer than a person sets a pump
constexpr int kMaxSteps = 5;             // more cannot be kept by hand
constexpr double kWorth = 0.05;          // one step more must save this share of the fill time
constexpr double kFilledEnough = 0.995;  // the curve's end: after it the front closes on single nodes
// Where the rate has fallen to this share of what it was with a tenth of the mold to go, the front runs no more: it
// presses on shut-in air. No step is made of that, the pump holds its pressure. A front that closes on a vent alone
// keeps three times as much (radial inwards: 0.43 of it at the curve's end, about 0.3 on the last nodes).
constexpr double kCreep = 0.1, kRunning = 0.9;
constexpr int kMaxRuns = 8;        // of the advised fill; each slows the steps that were too fast
constexpr double kLoose = 0.005;   // of its pressure: so near to its limit the pump holds that, not its rate
constexpr double kAim = 1.01;      // times the safety asked for: what is seen of it is the mean over a step
constexpr double kMinHold = 0.02;  // a fiftieth of the pressure fills fifty times as slowly: that is no schedule
// A pump that stands at its limit after this share of the resin follows the pressure, not the rate that is set.
constexpr double kAlmostAtOnce = 0.1;
constexpr double kVolumeSettings = 40;  // a step begins at a round volume, of which so many fill the mold
// A rate that somebody sets, sees the pump take, and watches lasts so long at the least, s (own choice).
constexpr double kLeastHold = 5;

struct Curve {
  std::vector<double> volume, rate;  ///< rate at which the first limit is just met
  std::vector<char> opening;         ///< 1: that limit is the opening margin
};

/// A fill, and at each of its steps the share of its pressure over the cavity's that keeps the mold shut.
struct Watched {
  Filling filling;
  double limit = 0;                                 ///< of the inlet, above atmosphere, Pa
  std::vector<std::pair<double, double>> fraction;  ///< (time at the end of the step, s; that share)
};
Watched run(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o) {
  Watched w;
  w.limit = o.pressure_limit;
  flow::OpeningWatch opening(sheet, laminate, o);
  double inlet = o.cavity_pressure;
  w.filling =
      flow::fill_watched(sheet, laminate, o, [&](double time, double at_inlet, const std::vector<double>& pressure) {
        opening.see(time, pressure), inlet = at_inlet;
        w.fraction.emplace_back(time, opening.allowed(pressure, kAim * o.closing.safety, o.closing.everywhere));
      });
  w.filling.opening = opening.finish(flow::end_of_flow(w.filling, o), inlet);
  return w;
}

/// The opening's share at the times of the fill's own history, which may be thinned, and whose samples stand in the
/// middle of a step where the share stands at its end: the least since the sample before.
std::vector<double> at_history(const Watched& w) {
  std::vector<double> out;
  std::size_t k = 0;
  for (const auto& h : w.filling.history) {
    double minimum = flow::kNever;
    for (bool in = true; in && k < w.fraction.size(); ++k)
      in = w.fraction[k].first < h.time, minimum = std::min(minimum, w.fraction[k].second);
    out.push_back(std::isfinite(minimum) ? minimum : out.empty() ? 1 : out.back());
  }
  return out;
}

/// Where the curve ends, as a share filled.
double curve_end(const Filling& f) {
  const double all = f.history.back().filled;
  double fast = 0;
  for (const auto& h : f.history) {
    if (h.filled <= kRunning * all || !(fast > 0))
      fast = h.rate;
    else if (h.rate < kCreep * fast)
      return std::min(h.filled, kFilledEnough * all);
  }
  return kFilledEnough * all;
}

/// What the limits leave after the curve's end, where at last the inlet's pressure may stand in the whole cavity.
struct Tail {
  double rate = flow::kNever, fraction = flow::kNever;
};
Tail tail(const Watched& w, double end) {
  const auto fraction = at_history(w);
  const auto& h = w.filling.history;
  Tail t;
  for (std::size_t k = 0; k < h.size(); ++k)
    if (h[k].filled >= end || k + 1 == h.size())
      t.rate = std::min(t.rate, h[k].rate * std::min(1.0, fraction[k])), t.fraction = std::min(t.fraction, fraction[k]);
  return t;
}

/// `hold`: the share of the fill's own pressure that the pump is set to hold at the most.
Curve resistance_curve(const Watched& w, double end, double hold) {
  const auto& f = w.filling;
  const auto fraction = at_history(w);
  Curve c;
  const double total = f.injected / std::max(f.history.back().filled, 1e-300);
  double minimum = flow::kNever;
  char opening = 0;
  std::size_t k = 0;
  for (int i = 0; i <= kPoints; ++i) {
    const double filled = end * i / kPoints;
    for (; k < f.history.size() && (f.history[k].filled <= filled || k == 0); ++k)
      if (const double rate = f.history[k].rate * std::min({1.0, fraction[k], hold}); rate < minimum)
        minimum = rate, opening = fraction[k] < 1 || hold < 1;
    c.volume.push_back(filled * total);
    c.rate.push_back(minimum);  // running least: the resistance only grows
    c.opening.push_back(opening);
  }
  return c;
}

/// Rates as the pump can be set, rounded down; 0: slower than it can go.
struct Settings {
  double step = 0, minimum = 0;
  double operator()(double rate) const {
    if (step > 0) rate = std::floor(rate / step * (1 + 1e-9)) * step;
    return rate >= minimum ? rate : 0;
  }
};

/// A round volume: 1, 2 or 5 times a power of ten.
double round_volume(double total) {
  const double wanted = total / kVolumeSettings, ten = std::pow(10, std::floor(std::log10(wanted)));
  return wanted >= 5 * ten ? 5 * ten : wanted >= 2 * ten ? 2 * ten : ten;
}

// Least total time with k steps over the curve's first n points, each at the rate allowed at its end and long enough to
// be set (dynamic programming); +infinity: there are none. Steps of the same rate are one.
std::vector<RateStep> best_steps(const Curve& c, int n, int k, const std::vector<double>& rates, double& time,
                                 bool& by_opening) {
  std::vector<std::vector<double>> cost(k + 1, std::vector<double>(n, flow::kNever));
  std::vector<std::vector<int>> from(k + 1, std::vector<int>(n, 0));
  cost[0][0] = 0;
  const auto rate = [&](int j) { return rates[j]; };
  for (int s = 1; s <= k; ++s)
    for (int j = 1; j < n; ++j)
      for (int i = 0; i < j; ++i)
        if (const double lasts = (c.volume[j] - c.volume[i]) / rate(j), t = cost[s - 1][i] + lasts;
            lasts >= kLeastHold && t < cost[s][j])
          cost[s][j] = t, from[s][j] = i;
  time = cost[k][n - 1];
  by_opening = false;
  std::vector<RateStep> steps;
  if (!std::isfinite(time)) return steps;
  for (int s = k, j = n - 1; s > 0; j = from[s][j], --s) {
    steps.push_back({c.volume[from[s][j]], rate(j)});
    by_opening = by_opening || c.opening[j];
  }
  std::reverse(steps.begin(), steps.end());
  return steps;
}

/// Begins at round volumes, rounded down (a slower step may begin sooner), no two of the same rate.
std::vector<RateStep> in_shop_figures(const std::vector<RateStep>& steps, double total, bool rounded) {
  std::vector<RateStep> out;
  const double grain = round_volume(total);
  for (RateStep s : steps) {
    if (rounded) s.from = std::floor(s.from / grain * (1 + 1e-9)) * grain;
    if (!out.empty() && s.from <= out.back().from)
      out.back().rate = std::min(out.back().rate, s.rate);
    else if (out.empty() || s.rate < out.back().rate)
      out.push_back(s);
  }
  return out;
}

/// Whether a person can run the first `held` of them: begins were rounded, and rates lowered, since that was seen to.
bool can_be_set(const std::vector<RateStep>& steps, std::size_t held, double total) {
  for (std::size_t k = 0; k < std::min(held, steps.size()); ++k)
    if (((k + 1 < steps.size() ? steps[k + 1].from : total) - steps[k].from) / steps[k].rate < 0.5 * kLeastHold)
      return false;
  return true;
}

ScheduleResult summary(const Filling& f, const FlowOptions& o) {
  ScheduleResult r;
  r.fill_time = f.fill_time;
  r.peak_pressure = *std::max_element(f.peak_pressure.begin(), f.peak_pressure.end()) - atmosphere_pa;
  r.min_margin = f.opening.force.margin();
  r.min_safety = f.opening.force.safety();
  r.min_local = f.opening.place.minimum;
  r.dry_area = flow::dry_area(f), r.gelled = std::isfinite(flow::stops_at(f, o));
  const double drive = o.pressure_limit + atmosphere_pa - o.cavity_pressure;
  const double all = f.history.empty() ? 1 : std::max(f.history.back().filled, 1e-300);
  // The last sample below the limit: after it the pump stands there.
  r.limit_from = 0, r.rate_set = !o.schedule.empty();
  for (const auto& h : f.history)
    if (h.gauge_pressure < o.pressure_limit - kLoose * drive) r.limit_from = std::min(1.0, h.filled / all);
  return r;
}

/// Whether the mold stays shut to the last drop with the options as they are, were the resin not to gel.
bool holds_to_the_end(const Sheet& sheet, const LaminateMap& laminate, FlowOptions o) {
  o.gel_time = 0;
  const ScheduleResult r = summary(run(sheet, laminate, o).filling, o);
  return r.min_safety >= o.closing.safety && (!o.closing.everywhere || r.min_local >= 0);
}

/// Slows every step that opened the mold too far or met the pump's limit (after `end`, mm³, it may meet it); where a
/// step cannot be slowed any more, lowers that limit, `drive`, above the cavity's pressure. False if one did.
bool held(const Watched& w, const Settings& set, double end, std::vector<RateStep>& steps, double& drive) {
  const auto& f = w.filling;
  const auto fraction = at_history(w);
  const double total = f.injected / std::max(f.history.back().filled, 1e-300);
  auto slowed = steps;
  double minimum = 1;
  for (std::size_t k = 0; k < f.history.size(); ++k) {
    const auto& h = f.history[k];
    const bool opened = fraction[k] < 1,
               limited = h.filled * total < end && h.gauge_pressure > w.limit - kLoose * drive;
    if (!opened && (!limited || steps.empty())) continue;
    const double rate = set(0.99 * h.rate * std::min(1.0, fraction[k]));
    if (steps.empty() || !(rate > 0)) {
      minimum = std::min(minimum, fraction[k]);
      continue;
    }
    std::size_t s = steps.size() - 1;
    while (s > 0 && steps[s].from > h.filled * total) --s;
    while (s > 0 && rate >= steps[s].rate) --s;  // a sample that reaches across from the step before
    if (s + 1 == steps.size() && s > 0 && rate < kCreep * steps[s - 1].rate)
      minimum = std::min(minimum, fraction[k]);
    else
      slowed[s].rate = std::min(slowed[s].rate, rate);
  }
  bool all = minimum == 1;
  drive *= all ? 1 : 0.99 * minimum;
  for (std::size_t s = 0; s < steps.size(); ++s) {
    if (s > 0) slowed[s].rate = std::min(slowed[s].rate, slowed[s - 1].rate);
    all = all && slowed[s].rate == steps[s].rate;
  }
  steps = std::move(slowed);
  return all;
}

/// A schedule (none: constant pressure) that was run and slowed until it held.
struct Tried {
  std::vector<RateStep> steps;
  double limit = 0;
  ScheduleResult result;
  bool holds = false, in_time = true;
};

class Search {
 public:
  Search(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o)
      : sheet_(sheet), laminate_(laminate), o_(o) {
    set_ = {o.rate_setting, std::max(o.min_rate, o.rate_setting)};
  }
  const Settings& settings() const { return set_; }

  /// `drive`: of the inlet above the cavity, Pa; `end`: volume up to which the rates are to hold, mm³.
  Tried run_down(std::vector<RateStep> steps, double drive, double end, double total) const {
    Tried t;
    for (int k = 0; k < kMaxRuns && !t.holds; ++k) {
      FlowOptions o = o_;
      steps = in_shop_figures(steps, total, set_.step > 0);
      o.schedule = steps, o.pressure_limit = drive - (atmosphere_pa - o.cavity_pressure);
      if (!(o.pressure_limit + atmosphere_pa > o.cavity_pressure)) break;
      const Watched w = run(sheet_, laminate_, o);
      t.steps = steps, t.limit = o.pressure_limit, t.result = summary(w.filling, o);
      t.in_time = flow::in_time(w.filling, o);
      t.holds = held(w, set_, end, steps, drive);
    }
    return t;
  }

 private:
  const Sheet& sheet_;
  const LaminateMap& laminate_;
  FlowOptions o_;
  Settings set_;
};

void take(ProcessAdvice& a, const Tried& t) {
  a.mode = t.steps.empty() ? PumpMode::pressure : PumpMode::rates;
  a.steps = t.steps, a.pressure_limit = t.limit, a.advised = t.result, a.keeps_limits = t.holds, a.in_time = t.in_time;
}

}  // namespace

const char* to_string(PumpMode m) {
  constexpr const char* names[] = {"none", "rates", "pressure"};
  return names[static_cast<int>(m)];
}

ProcessAdvice flow::advise_process(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                                   const Filling& own, double safety) {
  if (!(safety > 0 && safety <= 1)) throw Error(Fault::input, "flow: the schedule's safety factor must be in (0, 1]");
  ProcessAdvice advice;
  advice.own = summary(own, options);
  const double left = options.ageing.gel - options.ageing.start;
  advice.gel_time = options.gel_time > 0 || !std::isfinite(left) ? options.gel_time : std::max(0.0, left);
  advice.help = flow::opening_help(sheet, laminate, options, own);
  FlowOptions o = options;
  o.schedule.clear();
  o.pressure_limit = options.pressure_limit * safety;
  const double vacuum = atmosphere_pa - o.cavity_pressure;
  if (!(o.pressure_limit + vacuum > 0)) return advice;
  const Watched full = run(sheet, laminate, o);
  if (full.filling.history.empty() || !(full.filling.history.back().filled > 0)) return advice;
  const double end = curve_end(full.filling);
  Curve curve = resistance_curve(full, end, 1);
  const Tail last = tail(full, end);
  const bool slower = last.rate > kCreep * curve.rate.back();  // will do at the end; else the pressure must come down
  const double hold = slower ? 1 : std::min(1.0, 0.99 * last.fraction);
  if (hold < 1) curve = resistance_curve(full, end, hold);
  const auto fraction = at_history(full);
  if (!(curve.rate.back() > 0) || *std::min_element(fraction.begin(), fraction.end()) < kMinHold) return advice;
  const Search search(sheet, laminate, o);
  const double drive = hold * (o.pressure_limit + vacuum);
  const double total = full.filling.injected / std::max(full.filling.history.back().filled, 1e-300);
  advice.bound_by_opening = hold < 1 || *std::min_element(fraction.begin(), fraction.end()) < 1;
  const auto at_pressure = [&] { return search.run_down({}, drive, 0, total); };

  // A pump that is already in use is taken to do no more than its fastest step.
  double cap = flow::kNever;
  for (const auto& s : options.schedule) cap = std::isfinite(cap) ? std::max(cap, s.rate) : s.rate;
  std::vector<double> rates;
  for (const double r : curve.rate) rates.push_back(search.settings()(std::min(cap, r)));
  const auto n = static_cast<int>(std::find(rates.begin(), rates.end(), 0.0) - rates.begin());
  bool stepped = n - 1 > kAlmostAtOnce * kPoints;
  if (stepped) {
    double time = 0;
    bool by_opening = false;
    auto steps = best_steps(curve, n, 2, rates, time, by_opening);
    for (int k = 3; k < kMaxSteps && std::isfinite(time); ++k) {
      double faster = 0;
      auto more = best_steps(curve, n, k, rates, faster, by_opening);
      if (faster > (1 - kWorth) * time) break;
      steps = std::move(more), time = faster;
    }
    const double at_last = search.settings()(last.rate);
    const bool all = n == static_cast<int>(rates.size());  // otherwise the pump's own pressure does the end
    if ((stepped = !steps.empty())) {
      const std::size_t held = steps.size();  // the last drops are slowed however soon they are in
      if (all && slower && at_last > 0 && last.rate < (1 - kWorth) * steps.back().rate)
        steps.push_back({curve.volume.back(), at_last});
      // The curve belongs to a constant pressure; the schedule's own fill decides, and too fast a step is slowed.
      take(advice, search.run_down(steps, drive, curve.volume[n - 1], total));
      stepped = advice.advised.limit_from > kAlmostAtOnce && can_be_set(advice.steps, held, total);
    }
  }
  if (!stepped) take(advice, at_pressure());
  if (!advice.in_time && advice.mode == PumpMode::rates)
    if (const Tried t = at_pressure();
        t.holds && (advice.advised.gelled ? t.result.dry_area < advice.advised.dry_area
                                          : t.result.fill_time < advice.advised.fill_time))
      take(advice, t);
  // The job's own setting, which spares nothing of its limit, may hold and fill before the resin gels, or sooner.
  if (!advice.in_time && !advice.own.gelled && advice.own.fill_time < advice.advised.fill_time &&
      holds_to_the_end(sheet, laminate, options)) {
    const PumpMode mode = options.schedule.empty() ? PumpMode::pressure : PumpMode::rates;
    advice.mode = mode, advice.steps = options.schedule, advice.pressure_limit = options.pressure_limit;
    advice.advised = advice.own, advice.keeps_limits = false, advice.in_time = flow::in_time(own, options);
  }
  if (!advice.in_time) advice.to_be_in_time = flow::changes_to_be_in_time(sheet, laminate, options, advice);
  return advice;
}

}  // namespace gapfront
