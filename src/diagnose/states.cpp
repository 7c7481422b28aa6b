#include "diagnose/states.hpp"

#include <cmath>
#include <limits>
#include <random>

#include "core/sheet_parts.hpp"
#include "gapfront/ensemble.hpp"

namespace gapfront::diagnosis {
namespace {

// What practice can do when a setting is put right (from memory): nine tenths of a vacuum, half or twice the rate,
// three tenths off the viscosity by warming.
constexpr double kGoodVacuum = 0.1 * atmosphere_pa, kSlow = 0.5, kFast = 2, kThin = 0.7;

/// The gap without a part of the measured deviation (0 where it has none), and without what was assumed from that.
void take_out(const CorrectInput& in, std::vector<double> part, std::vector<double>& gap) {
  if (!in.gap.assumed.gap.empty()) cavity::stretch_over(in.sheet, in.gap, part);
  for (std::size_t i = 0; i < gap.size(); ++i) gap[i] -= part[i];
}

}  // namespace

double gels_at(const FlowOptions& flow) {
  if (std::isfinite(flow.ageing.gel)) return flow.ageing.gel - flow.ageing.start;
  return flow.gel_time > 0 ? flow.gel_time : std::numeric_limits<double>::infinity();
}

State measured_state(const CorrectInput& in) {
  State s{in.verdict.nominal, in.laminate, in.flow};
  for (std::size_t i = 0; i < s.gap.size(); ++i) s.gap[i] = in.gap.flow_gap(i, s.gap[i]);
  if (in.breathing) s.gap = flow::under_filling(std::move(s.gap), *in.breathing);
  return s;
}

State nominal_state(const CorrectInput& in) {
  State s{in.verdict.nominal, in.laminate, in.flow};
  if (in.nominal_breathing) s.gap = flow::under_filling(std::move(s.gap), *in.nominal_breathing);
  return s;
}

State planned_state(const CorrectInput& in, const CorrectionPlan& plan) {
  State s{plan.gap_after, plan.laminate_after, plan.flow_after};
  const Breathing* b = plan.breathing_after.computed ? &plan.breathing_after : in.breathing;
  if (b) s.gap = flow::under_filling(std::move(s.gap), *b);
  return s;
}

State with_correction(State s, const Correction& c) {
  correct::apply(c, s.gap, s.laminate, s.flow);
  return s;
}

std::vector<Try> candidates(const CorrectInput& in, const State& now, const DrySpot& spot) {
  std::vector<Try> out;
  const auto add = [&](CauseKind kind, std::string name, Message what, bool gap) -> State& {
    Cause c;
    c.kind = kind, c.name = std::move(name), c.what = std::move(what), c.is_gap = gap;
    out.push_back({c, now});
    return out.back().state;
  };
  for (const auto& r : in.verdict.regions) {
    const bool radius = in_radius(in.sheet, r.nodes);
    State& s = add(radius ? CauseKind::radius : CauseKind::gap_region, r.name,
                   Message(r.high ? (radius ? "pages.gap-too-wide-radius" : "pages.gap-too-wide-around")
                                  : (radius ? "pages.gap-too-tight-radius" : "pages.gap-too-tight-around"),
                           {arg::place(r.centre, 2)}),
                   true);
    const auto& field = r.on_remainder ? in.verdict.remainder : in.verdict.deviation;
    std::vector<double> part(s.gap.size(), 0);
    for (const int i : r.nodes) part[i] = field[i];
    take_out(in, std::move(part), s.gap);
  }
  if (in.verdict.rigid_significant) {
    State& s = add(CauseKind::seat, "seat", Message("pages.rigid-offset-tilt-upper"), true);
    std::vector<double> part(s.gap.size(), 0);
    for (std::size_t i = 0; i < part.size(); ++i)
      if (std::isfinite(in.verdict.remainder[i])) part[i] = in.verdict.deviation[i] - in.verdict.remainder[i];
    take_out(in, std::move(part), s.gap);
  }
  for (std::size_t k = 0; k < in.laminate.zones.size(); ++k)
    if (in.laminate.zones[k].adds) {
      State& s = add(CauseKind::overlap, in.laminate.zones[k].name,
                     Message("pages.extra-glass", {arg::name(in.laminate.zones[k].name)}), false);
      s.laminate.zones.erase(s.laminate.zones.begin() + static_cast<long>(k));
    }
  {
    State& s = add(CauseKind::vent, "vent", Message("pages.place-vent-if-one"), false);
    s.flow.vents.push_back({"at the spot", {in.sheet.mesh.points[nearest_node(in.sheet, spot.at)]}, spot.size / 2, 0});
  }
  if (!in.flow.schedule.empty())
    for (const bool fast : {false, true}) {
      State& s = add(CauseKind::schedule, fast ? "schedule, faster" : "schedule, slower",
                     Message(fast ? "pages.flow-schedule-if-twice" : "pages.flow-schedule-if-half"), false);
      for (auto& step : s.flow.schedule) step.rate *= fast ? kFast : kSlow;
    }
  if (in.flow.cavity_pressure > kGoodVacuum)
    add(CauseKind::vacuum, "vacuum", Message("pages.cavitys-vacuum-if-nine"), false).flow.cavity_pressure = kGoodVacuum;
  for (std::size_t v = 0; v < in.flow.vents.size(); ++v) {
    const Vent& vent = in.flow.vents[v];
    if (!correct::closed_too_soon(in.measured, in.flow, v) && !correct::closed_too_soon(in.nominal, in.flow, v))
      continue;
    add(CauseKind::vent_closed, vent.name,
        Message("diagnosis.vent-closed-too-soon", {arg::name(vent.name), arg::time(vent.blocked_from)}), false)
        .flow.vents[v]
        .blocked_from = std::numeric_limits<double>::infinity();
  }
  if (gels_at(in.flow) < std::numeric_limits<double>::infinity()) {
    State& s = add(CauseKind::gel, "gel", Message("diagnosis.resin-that-gels", {arg::time(gels_at(in.flow))}), false);
    s.flow.gel_time = 0, s.flow.ageing = {};
  }
  if (in.flow.gel_time > 0)
    add(CauseKind::viscosity, "viscosity", Message("pages.resins-viscosity-if-three"), false).flow.viscosity *= kThin;
  return out;
}

std::vector<std::pair<Suspect, State>> suspects(const CorrectInput& in, const State& now, const DrySpot& spot) {
  std::vector<std::pair<Suspect, State>> out;
  if (!in.laminate.plies.empty()) {
    State s = now;
    LaminateZone zone;
    zone.name = "unrecorded overlap", zone.adds = true;
    zone.where.path = {in.sheet.mesh.points[nearest_node(in.sheet, spot.at)]}, zone.where.radius = spot.size;
    zone.plies = {in.laminate.plies.front()};
    zone.plies[0].count = 1;
    s.laminate.zones.push_back(zone);
    out.push_back({{Message("pages.overlap-one-ply-over"), Message("pages.cut-part-through-spot")}, s});
  }
  if (in.flow.cavity_pressure < atmosphere_pa) {
    State s = now;
    s.flow.cavity_pressure = 0.5 * (in.flow.cavity_pressure + atmosphere_pa);
    out.push_back({{Message("pages.leak-costs-half-vacuum"), Message("pages.close-mold-empty-pull")}, s});
  }
  {
    State s = now;
    s.flow.viscosity *= 1 / kThin;
    out.push_back(
        {{Message("pages.resin-four-tenths-thicker"), Message("pages.measure-viscosity-temperature-machine")}, s});
  }
  for (std::size_t k = 0; k < in.flow.vents.size(); ++k) {
    State s = now;
    s.flow.vents[k].blocked_from = 0;
    out.push_back(
        {{Message("pages.vent-blocked", {arg::name(in.flow.vents[k].name)}), Message("pages.blow-through-vent-before")},
         s});
    // Half: a vent that passes air at first and then fills with resin, or is shut by hand too soon.
    s.flow.vents[k].blocked_from = 0.5 * in.measured.fill_time;
    out.push_back({{Message("diagnosis.vent-shut-when-half", {arg::name(in.flow.vents[k].name)}),
                    Message("diagnosis.watch-vent-through-filling")},
                   s});
  }
  return out;
}

std::vector<Part> parts(const CorrectInput& in, const DiagnoseOptions& o) {
  // The report's own draws, so that the two speak of the same parts; batches of glass differ by as much as places of
  // one batch do (own choice: the spread that is stated does not tell them apart).
  const EnsembleOptions report = in.ensemble ? *in.ensemble : EnsembleOptions{};
  const double spread = flow::permeability_spread(in.laminate, report.spread);
  const Draws draws(in.sheet, in.gap, flow::scatter_model(in.sheet, in.laminate, flow::scatter_of(report)),
                    report.seed);
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  std::vector<Part> out;
  for (int k = 0; k < o.draws; ++k) {
    const double reinforcement = std::exp(spread * normal(random)),
                 viscosity = std::exp(o.viscosity_spread * normal(random));
    out.push_back({draws(unsigned(k)), reinforcement, viscosity});
  }
  return out;
}

State made_as(State s, const Part& part) {
  s.flow.viscosity *= part.viscosity;
  s.reinforcement = part.draw.permeability;
  for (double& factor : s.reinforcement) factor *= part.reinforcement;
  for (std::size_t i = 0; i < s.gap.size(); ++i) s.gap[i] += part.draw.gap[i];
  return s;
}

}  // namespace gapfront::diagnosis
