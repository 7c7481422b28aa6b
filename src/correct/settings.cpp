// Settings of pump, vacuum and resin where the mold opens, or the resin gels before it is full.
#include <algorithm>
#include <cmath>

#include "correct/effort.hpp"
#include "correct/free_name.hpp"
#include "correct/state.hpp"

namespace gapfront::correct {
namespace {

// 0.05 bar: the lowest limit that the gauge of a pump shows (own choice), Pa, less rounding.
constexpr double kLeastLimit = 5000 * (1 - 1e-6);

/// A limit as the shop sets it, no higher than what was computed: "no more than" is never rounded up.
double as_set(double limit) { return std::floor(limit / kPumpStep * (1 + 1e-9)) * kPumpStep; }

Correction setting_of(const CorrectOptions& o, Kind kind, double value, Message what) {
  Correction c;
  c.kind = kind, c.face = "settings", c.redesign = true, c.setting = value;
  c.effort = effort_hours(o, kind, 0, 0);
  c.instruction = {std::move(what)};
  return c;
}

/// Why a setting is wanted stands before it.
Message opens_now(const Effect& now, const CureLimits& limits) {
  return Message(now.closing_balance < 1 ? "advice.mold-opens-what" : "advice.mold-may-open-what",
                 {arg::number(now.closing_balance, 2), arg::number(limits.safety, 2)});
}

ProcessAdvice advice_for(const Bench& bench, const State& s) {
  const CorrectInput& in = bench.in();
  const LaminateMap laminate = filled(in, bench.gap(s), s.laminate, in.breathing);
  return flow::advise_process(in.sheet, laminate, s.flow, flow::fill(in.sheet, laminate, s.flow));
}

/// What the advice found that would hold the mold shut, of what is set and not built.
void against_opening(const FlowOptions& flow, const ProcessAdvice& a, const CorrectOptions& o,
                     std::vector<Correction>& out) {
  using Change = ProcessChange::Kind;
  for (const ProcessChange& change : a.help.changes) {
    if (change.kind == Change::lower_limit && change.amount >= kLeastLimit)
      out.push_back(setting_of(o, Kind::lower_limit, change.amount,
                               Message("optimiser.set-limit", {arg::pressure(change.amount)})));
    if (change.kind == Change::slower) {
      out.push_back(setting_of(o, Kind::pump_steps, flow.pressure_limit,
                               Message("optimiser.set-rate", {arg::flow_rate(change.amount)})));
      out.back().schedule = {{0, change.amount}};
    }
    if (change.kind == Change::cavity_vacuum && o.least_cavity_pressure > 0 &&
        atmosphere_pa - change.amount >= o.least_cavity_pressure)
      out.push_back(setting_of(o, Kind::vacuum_level, atmosphere_pa - change.amount,
                               Message("optimiser.set-vacuum-shut", {arg::pressure(atmosphere_pa - change.amount)})));
  }
  const double limit = a.pressure_limit < flow.pressure_limit ? as_set(a.pressure_limit) : a.pressure_limit;
  if (a.mode == PumpMode::none || !a.keeps_limits || limit < kLeastLimit || a.advised.gelled) return;
  Messages steps;
  for (const RateStep& s : a.steps) steps.push_back(Message("list.plain", {arg::flow_rate(s.rate)}));
  const bool limit_only = a.steps.empty() && flow.schedule.empty();
  out.push_back(setting_of(o, limit_only ? Kind::lower_limit : Kind::pump_steps, limit,
                           steps.empty() ? Message("optimiser.set-limit", {arg::pressure(limit)})
                                         : Message("optimiser.set-steps", {steps, arg::pressure(limit)})));
  out.back().schedule = a.steps;
}

/// A second inlet on the way of the front.
void in_time(const CorrectInput& in, const CorrectOptions& o, std::vector<Correction>& out) {
  for (const ProcessChange& change : in.advice->to_be_in_time) {
    if (change.kind != ProcessChange::Kind::second_inlet || !o.touch_tool) continue;
    Correction c = setting_of(o, Kind::inlet_add, 0, Message("optimiser.second-inlet", {arg::place(change.at)}));
    c.face = "port", c.port = free_name(in.flow.inlets, "inlet "), c.port_to = {change.at}, c.centre = change.at;
    c.port_radius = in.flow.inlets.front().radius;
    out.push_back(std::move(c));
  }
}

}  // namespace

std::vector<Correction> setting_candidates(const Bench& bench, const CorrectOptions& o, const Effect& now,
                                           const CureLimits& limits, std::optional<bool> gels_first,
                                           const State* state) {
  const CorrectInput& in = bench.in();
  const auto left = uncured(now, limits);
  const bool opens = std::count(left.begin(), left.end(), Uncured::opening) > 0;
  const bool gels = gels_first.value_or(std::count(left.begin(), left.end(), Uncured::gel) > 0);
  std::vector<Correction> out;
  if (!opens && !gels) return out;
  if (in.advice && opens) {
    const FlowOptions& flow = state ? state->flow : in.flow;
    against_opening(flow, state ? advice_for(bench, *state) : *in.advice, o, out);
    for (Correction& c : out) c.instruction.insert(c.instruction.begin(), opens_now(now, limits));
  }
  if (in.advice && gels) in_time(in, o, out);
  // How warm resin ages is not given beside its viscosity and gel time.
  if (o.warm_viscosity > 0 && o.warm_viscosity < in.flow.viscosity && !in.flow.ageing.on()) {
    out.push_back(setting_of(o, Kind::resin_warmed, o.warm_viscosity,
                             Message("optimiser.warm-resin", {arg::viscosity(o.warm_viscosity)})));
    out.back().gel_time = o.warm_gel_time;
  }
  return out;
}

}  // namespace gapfront::correct
