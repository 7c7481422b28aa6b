#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "job/sections.hpp"

namespace gapfront::job {
namespace {

/// Absolute pressure at the vents, Pa: `cavity_pressure` (absolute) or `vacuum` (how far below atmosphere).
double read_cavity_pressure(Table& t, double otherwise) {
  const auto absolute = t.with_suffix("cavity_pressure", {"absolute"});
  const auto vacuum = read_vacuum(t, "vacuum");
  if (absolute && vacuum) t.fail("vacuum", "give either cavity_pressure or vacuum, not both");
  if (absolute) {
    const double p = parse_quantity(absolute->first, Dimension::pressure, t.place("cavity_pressure"));
    if (absolute->second.empty())
      t.fail("cavity_pressure",
             "say that it is absolute: \"" + absolute->first + " absolute\"; or give vacuum = \"50 % of atmosphere\"");
    if (!(p >= 0 && p <= 10 * atmosphere_pa)) t.fail("cavity_pressure", "must lie between 0 and 10 atmospheres");
    return p;
  }
  return vacuum ? atmosphere_pa - *vacuum : otherwise;
}

double read_pressure_limit(Table& t, double otherwise) {
  const auto given = t.with_suffix("pressure_limit", {"above atmosphere", "absolute"});
  if (!given) return otherwise;
  if (given->second.empty()) {
    const std::string bare = bare_pressure(t, "pressure_limit", given->first);
    t.fail("pressure_limit", "does not say from where the pressure counts; write \"" + bare +
                                 " above atmosphere\" or \"" + bare + " absolute\"");
  }
  const double p = parse_quantity(given->first, Dimension::pressure, t.place("pressure_limit")) -
                   (given->second == "absolute" ? atmosphere_pa : 0);
  if (!(p > 0)) t.fail("pressure_limit", "must be above atmosphere, e.g. \"1.2 bar above atmosphere\"");
  return p;
}

std::vector<RateStep> read_schedule(Table& t) {
  std::vector<RateStep> out;
  if (const auto rate = t.quantity("rate", Dimension::flow_rate, Sign::positive)) out.push_back({0, *rate});
  for (auto& s : t.tables("schedule")) {
    if (t.has("rate")) t.fail("schedule", "give either rate or schedule, not both");
    RateStep step;
    step.from = s.quantity("from", Dimension::volume, Sign::not_negative).value_or(0);
    step.rate = s.need_positive("rate", Dimension::flow_rate, "\"1.5 L/min\"");
    if (out.empty() && step.from != 0) s.fail("from", "the first step starts at \"0 L\"");
    if (!out.empty() && step.from <= out.back().from) s.fail("from", "must be more than in the step before");
    s.done();
    out.push_back(step);
  }
  return out;
}

/// `viscosity` outright, or `viscosity_table` at `temperature`: straight in the logarithm between two entries, for that
/// is nearly how resins thin.
double read_viscosity(Table& t) {
  const auto table = t.pairs("viscosity_table", Dimension::temperature, Dimension::viscosity);
  const auto temperature = t.quantity("temperature", Dimension::temperature);
  if (table.empty()) {
    if (temperature && !t.has("ageing")) t.fail("temperature", "serves a viscosity_table, and there is none");
    return t.need_positive("viscosity", Dimension::viscosity, "\"0.2 Pa.s\"");
  }
  if (t.has("viscosity")) t.fail("viscosity", "give either viscosity or viscosity_table, not both");
  const double at = t.need("temperature", temperature, "\"22 C\" (of the resin as it flows)");
  for (std::size_t k = 0; k + 1 < table.size(); ++k) {
    const auto& [t0, v0] = table[k];
    const auto& [t1, v1] = table[k + 1];
    if (at >= t0 && at <= t1) return v0 * std::pow(v1 / v0, (at - t0) / (t1 - t0));
  }
  t.fail("temperature", "lies outside viscosity_table; measure the resin's viscosity at the temperature of the mold");
}

/// Section of a perimeter runner, and where it is fed.
void read_runner(Table& t, Inlet& inlet) {
  inlet.runner_width = t.quantity("runner_width", Dimension::length, Sign::positive).value_or(0);
  inlet.runner_depth = t.quantity("runner_depth", Dimension::length, Sign::positive).value_or(0);
  inlet.sections = read_sections(t);
  if ((inlet.runner_width > 0) != (inlet.runner_depth > 0))
    t.fail("a runner's section needs runner_width and runner_depth");
  if (inlet.runner_width > 0 && !inlet.sections.empty())
    t.fail("section", "give either runner_width and runner_depth, or sections at places, not both");
  const bool section = inlet.has_section();
  if (section && !inlet.perimeter)
    t.fail(inlet.sections.empty() ? "runner_width" : "section", "belongs to an inlet with perimeter = true");
  if (section && inlet.path.empty()) t.fail("where is the runner fed? give at = \"x, y, z mm\"");
  if (inlet.perimeter && !section && !inlet.path.empty()) t.fail("give either perimeter = true or a path, not both");
}

/// Surface tension in N/mm, written "35 mN/m".
double read_surface_tension(Table& t) {
  const auto given = t.with_suffix("surface_tension", {"mN/m", "N/m"});
  if (!given) return 0;
  char* end = nullptr;
  const double value = std::strtod(given->first.c_str(), &end);
  if (given->second.empty() || *end || !(value > 0 && std::isfinite(value)))
    t.fail("surface_tension", "needs a number and a unit, mN/m or N/m; write e.g. \"35 mN/m\"");
  return value * (given->second == "mN/m" ? 1e-6 : 1e-3);
}

/// What voids follow from; without a surface tension they are not looked at.
void read_wetting(Table& t, FlowOptions& o) {
  o.surface_tension = read_surface_tension(t);
  o.contact_angle = t.quantity("contact_angle", Dimension::angle, Sign::not_negative).value_or(o.contact_angle);
  if (!(std::cos(o.contact_angle) > 0.05))
    t.fail("contact_angle", "must be below 87 deg; such resin does not wet glass");
  if (t.has("contact_angle") && !(o.surface_tension > 0))
    t.fail("contact_angle", "counts with surface_tension only; give both, or neither");
}

/// Residual air follows from the same, and from how fast bubbles go.
void read_air(Table& t, const FlowOptions& flow, AirOptions& o) {
  o.on = t.flag("residual_air").value_or(false);
  if (o.on && !(flow.surface_tension > 0))
    t.fail("residual_air", "follows from surface_tension, and there is none; give e.g. surface_tension = \"35 mN/m\"");
  o.mobility = t.number("bubble_mobility", Sign::not_negative).value_or(o.mobility);
  if (!(o.mobility < 1)) t.fail("bubble_mobility", "must be below 1; bubbles do not outrun the front");
  if (t.has("bubble_mobility") && !o.on)
    t.fail("bubble_mobility", "counts with residual_air = true only; give both, or neither");
}

}  // namespace

void read_flow(Table t, Job& job, bool clamping_given) {
  auto& flow = job.flow;
  flow.viscosity = read_viscosity(t);
  if (const auto runs = t.number("ensemble", Sign::not_negative)) {
    // 1000 runs tell a probability to 1.5 %; more is waiting for nothing.
    if (*runs != std::floor(*runs) || *runs > 1000) t.fail("ensemble", "is a whole number of runs, 0 to 1000; 0: none");
    job.ensemble.runs = static_cast<int>(*runs);
  }
  job.ensemble.min_dry =
      t.quantity("least_dry_spot", Dimension::area, Sign::not_negative).value_or(job.ensemble.min_dry);
  flow.pressure_limit = read_pressure_limit(t, flow.pressure_limit);
  flow.cavity_pressure = read_cavity_pressure(t, flow.cavity_pressure);
  if (flow.cavity_pressure >= flow.pressure_limit + atmosphere_pa)
    t.fail("the cavity pressure is not below the pressure limit; no resin would flow");
  flow.gel_time = t.quantity("gel_time", Dimension::time, Sign::positive).value_or(0);
  flow.min_rate = t.quantity("least_rate", Dimension::flow_rate, Sign::positive).value_or(0);
  flow.rate_setting = t.quantity("rate_setting", Dimension::flow_rate, Sign::positive).value_or(flow.rate_setting);
  read_supply(t, flow, t.quantity("temperature", Dimension::temperature));
  read_wetting(t, job.flow);
  read_air(t, job.flow, job.air);
  flow.schedule = read_schedule(t);
  // On dry glass the vacuum presses as well; what a declared clamping has beyond it presses on resin, too.
  const double vacuum = std::max(0.0, atmosphere_pa - flow.cavity_pressure);
  auto& clamping = job.laminate.clamping_pressure;
  if (!clamping_given) {
    clamping = vacuum + flow.closing.pressure;
    // Clamps and a channel at the flange are spread over the face when its size is known (clamping_over_face()).
    const bool flange = flow.closing.force > 0 || flow.closing.perimeter_vacuum > 0;
    if (!(clamping > 0) && !flange)
      t.fail(
          "no vacuum holds the halves together; say what does: [closing] pressure = \"0.5 bar\", force = \"4 kN\" "
          "or perimeter_vacuum = \"90 % of atmosphere\" with perimeter_width = \"40 mm\"");
  } else if (flow.closing.pressure == 0) {
    flow.closing.pressure = std::max(0.0, clamping - vacuum);
  }

  std::vector<std::string> names;
  for (auto& i : t.tables("inlet")) {
    Inlet inlet;
    inlet.name = i.text("name").value_or("inlet " + std::to_string(names.size() + 1));
    refuse_duplicate(i, inlet.name, names);
    inlet.perimeter = i.flag("perimeter").value_or(false);
    read_path(i, inlet.path, inlet.radius);
    read_runner(i, inlet);
    if (!inlet.perimeter && inlet.path.empty()) i.fail("where is it? give perimeter = true, at, or path");
    i.done();
    flow.inlets.push_back(std::move(inlet));
  }
  if (flow.inlets.empty()) t.fail("no inlet; add [[flow.inlet]] with perimeter = true, or at = \"x, y, z mm\"");
  names.clear();
  for (auto& v : t.tables("vent")) {
    Vent vent;
    vent.name = v.text("name").value_or("vent " + std::to_string(names.size() + 1));
    refuse_duplicate(v, vent.name, names);
    read_path(v, vent.path, vent.radius);
    if (vent.path.empty()) v.fail("where is it? give at = \"x, y, z mm\" or a path");
    vent.bleed = v.quantity("bleed", Dimension::time, Sign::not_negative).value_or(0);
    vent.blocked_from = v.quantity("closed_at", Dimension::time, Sign::positive).value_or(vent.blocked_from);
    v.done();
    flow.vents.push_back(std::move(vent));
  }
  if (flow.vents.empty()) t.fail("no vent; add [[flow.vent]] with at = \"x, y, z mm\" where air leaves");
  t.done();
}

}  // namespace gapfront::job
