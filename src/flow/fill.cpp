// A filling, and what it refuses of its settings.
#include <algorithm>
#include <cmath>

#include "flow/fill_run.hpp"
#include "flow/margin.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

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
  out.opening = opening.finish(out.fill_time, inlet);
  return out;
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
