// A filling, and what it refuses of its settings.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "flow/clock.hpp"
#include "flow/fill_run.hpp"
#include "flow/margin.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

void check_supply(const FlowOptions& o) {
  const Supply& s = o.supply;
  if (!(s.hose_length >= 0 && s.vent_length >= 0) || (s.hose_length > 0 && !(s.hose_bore > 0)) ||
      (s.vent_length > 0 && !(s.vent_bore > 0)))
    throw Error(Fault::input, "flow: a hose or vent line needs a length and a bore greater than zero");
  const auto litres = [](double rate) {
    char text[32];
    std::snprintf(text, sizeof text, "%.3g L/min", rate * 60 / 1e6);
    return std::string(text);
  };
  for (const auto& step : o.schedule)
    if (step.rate < o.min_rate * (1 - 1e-9))
      throw Error(Fault::input, "flow: a rate of " + litres(step.rate) + " is below the pump's least rate of " +
                                    litres(o.min_rate) + "; raise the rate, or lower least_rate");
  for (const auto& step : o.schedule)
    if (s.max_rate > 0 && step.rate > s.max_rate * (1 + 1e-9))
      throw Error(Fault::input, "flow: a rate of the schedule is above the pump's greatest; lower it");
  if (s.max_rate > 0 && s.max_rate < o.min_rate)
    throw Error(Fault::input, "flow: the pump's greatest rate is below its least; exchange them");
  if (!(o.gravity.density > 0)) throw Error(Fault::input, "flow: the resin's density must be greater than zero");
  if (s.gauge_at_pump && !(o.pressure_limit + flow::pump_head(o) + atmosphere_pa > o.cavity_pressure))
    throw Error(Fault::input, "flow: the limit at the pump does not lift the resin to the inlet; set the pump higher");
}

}  // namespace

double flow::pump_head(const FlowOptions& o) { return o.gravity.density * free_fall * o.supply.pump_above; }

void check_options(const FlowOptions& options) {
  if (options.inlets.empty())
    throw Error(Fault::input, "flow: no inlet; name a perimeter, point or path where resin enters");
  if (options.vents.empty()) throw Error(Fault::input, "flow: no vent; name a point or path where air leaves");
  if (!(options.viscosity > 0)) throw Error(Fault::input, "flow: viscosity must be greater than zero");
  if (!(options.pressure_limit + atmosphere_pa > options.cavity_pressure))
    throw Error(Fault::input, "flow: the pressure limit is not above the cavity pressure; no resin would flow");
  // A step that takes nothing never ends; ten rows at once leave of the course of the front no more than a guess.
  if (!(options.cells_per_step >= 0.1 && options.cells_per_step <= 10))
    throw Error(Fault::input, "flow: cells per step must lie between 0.1 and 10");
  for (const auto& s : options.schedule)
    if (!(s.rate > 0)) throw Error(Fault::input, "flow: every rate of the schedule must be greater than zero");
  check_supply(options);
  check_options(options.ageing);
  if (!(options.viscosity_spread >= 0 && options.viscosity_spread < 1))
    throw Error(Fault::input, "flow: the viscosity's uncertainty must lie between 0 and 100 %");
  if (!(options.wet_out.through >= 0))
    throw Error(Fault::input, "flow: the permeability through the thickness must not be less than nothing");
}

Filling flow::fill_watched(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                           const PressureWatch& watch, const Progress& progress) {
  check_options(options);
  const flow::Ground ground(sheet, options);
  return flow::Fill(ground, laminate, options, watch).run(progress);
}

Filling flow::fill(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                   const Progress& progress) {
  if (laminate.nodes.size() != sheet.size())
    throw Error(Fault::input, "flow: the laminate belongs to another sheet; evaluate it on this one");
  flow::OpeningWatch opening(sheet, laminate, options);
  double inlet = options.cavity_pressure;
  const auto watch = [&](double time, double at_inlet, const std::vector<double>& pressure) {
    opening.see(time, pressure), inlet = at_inlet;
  };
  Filling out = flow::fill_watched(sheet, laminate, options, watch, progress);
  out.opening = opening.finish(flow::end_of_flow(out, options), inlet);
  return out;
}

void flow::try_viscosities(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options, Filling& f) {
  if (!(options.viscosity_spread > 0)) return;
  const auto with = [&](double factor) {
    FlowOptions o = options;
    o.viscosity *= factor;
    return flow::fill_watched(sheet, laminate, o, {});
  };
  const double factor = std::exp(1.96 * options.viscosity_spread);  // nineteen in twenty of a normal logarithm
  const Filling thin = with(1 / factor), thick = with(factor);
  SupplyCourse& s = f.supply;
  s.on = true, s.thin_time = thin.fill_time, s.thick_time = thick.fill_time, s.thick_dry = flow::dry_area(thick);
}

double flow::passing_time(const Filling& f, std::size_t node) {
  const double t = f.arrival[node];
  return f.fill_time > 0 && std::isfinite(t) ? std::min(t, f.fill_time) : t;
}

double flow::dry_area(const Filling& f) {
  double area = 0;
  for (const auto& p : f.pockets) area += p.area;
  return area;
}

}  // namespace gapfront
