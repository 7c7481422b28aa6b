// What each kind of correction changes, and what glass it lays.
#include <algorithm>
#include <limits>

#include "gapfront/correct.hpp"

namespace gapfront {
namespace {

// Roving lies at about half glass by volume (from memory, order of magnitude only).
constexpr double kRovingVf = 0.5;

}  // namespace

void correct::apply(const Correction& c, std::vector<double>& gap, LaminateOptions& laminate, FlowOptions& flow) {
  for (std::size_t i = 0; i < c.gap_change.size(); ++i) gap[i] += c.gap_change[i];
  if (!c.stack.empty()) laminate.plies = c.stack;
  for (InsideRadius& r : laminate.radii)
    if (std::count(c.packed.begin(), c.packed.end(), r.name) > 0) r.packing = Packing::roving;
  const auto is_cut = [&](const LaminateZone& z) { return std::count(c.cut.begin(), c.cut.end(), z.name) > 0; };
  laminate.zones.erase(std::remove_if(laminate.zones.begin(), laminate.zones.end(), is_cut), laminate.zones.end());
  laminate.zones.insert(laminate.zones.end(), c.added.begin(), c.added.end());
  if (c.kind == Kind::vent_move || c.kind == Kind::vent_enlarge)
    for (auto& v : flow.vents)
      if (v.name == c.port) {
        v.path = c.port_to;
        if (c.port_radius > 0) v.radius = c.port_radius;
      }
  if (c.kind == Kind::vent_open)
    for (auto& v : flow.vents)
      if (v.name == c.port) v.blocked_from = std::numeric_limits<double>::infinity();
  if (c.kind == Kind::vent_add) flow.vents.push_back({c.port, c.port_to, c.port_radius, 0});
  if (c.kind == Kind::inlet_move)
    for (auto& i : flow.inlets)
      if (i.name == c.port) i.path = c.port_to;
  if (c.kind == Kind::inlet_add) {
    Inlet more;
    more.name = c.port, more.path = c.port_to, more.radius = c.port_radius;
    flow.inlets.push_back(std::move(more));
  }
  if (c.kind == Kind::vacuum_level) {
    // The vacuum presses on the glass as well.
    laminate.clamping_pressure += flow.cavity_pressure - c.setting;
    flow.cavity_pressure = c.setting;
  }
  if (c.kind == Kind::lower_limit) flow.pressure_limit = c.setting;
  if (c.kind == Kind::pump_steps) flow.schedule = c.schedule, flow.pressure_limit = c.setting;
  if (c.kind == Kind::resin_warmed) flow.viscosity = c.setting, flow.gel_time = c.gel_time;
}

Ply correct::roving(const Ply& like, double thickness) {
  Ply p = like;
  p.reinforcement.name = "roving, packed";
  p.reinforcement.source = {Message("clamping.weight-from-thickness"),
                            Message("clamping.laws-as-of", {arg::name(like.reinforcement.name)})};
  p.reinforcement.loft = thickness;
  p.reinforcement.areal_weight = thickness * kRovingVf * like.reinforcement.density;
  p.count = 1;
  return p;
}

}  // namespace gapfront
