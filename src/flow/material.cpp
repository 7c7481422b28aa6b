// Glass and resin of a part.
#include "gapfront/material.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::flow {
namespace {

// Expanded, k = 2 (JCGM 100:2008, 6.3).
constexpr double kCoverage = 2;

}  // namespace

MaterialUse material_use(const Sheet& sheet, const GapMap& map, const LaminateMap& laminate,
                         const LaminateOptions& options, const FlowOptions& flow, const Filling& filling,
                         const Prices& prices) {
  MaterialUse out;
  double volume = 0, solid = 0, offset = 0, warm = 0, noise = 0;
  Vector6 motion = Vector6::Zero();
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const NodeLaminate& n = laminate.nodes[i];
    const double a = sheet.area[i], thickness = n.fluid_thickness / std::max(n.porosity, 1e-9);
    // Of a part: where air stays no resin is, and that is a fault, not a saving.
    volume += a * n.fluid_thickness, solid += a * (thickness - n.fluid_thickness);
    if (!map.nodes[i].measured) continue;
    const NodeGap& g = map.nodes[i];
    offset += a * g.u_instrument, warm += a * g.u_temperature;
    motion.head<3>() += a * g.direction;
    motion.tail<3>() += a * (g.mid - map.pivot).cross(g.direction);
    noise += a * a * (g.u_lower * g.u_lower + g.u_upper * g.u_upper);
  }
  // One density and one scatter for all of it: those of the glass that lies everywhere.
  double density = 2.55e-3, u_weight = 0;
  if (!options.plies.empty()) {
    density = 0;
    double thickness = 0;
    for (const Ply& p : options.plies) {
      const double mass = p.count * p.reinforcement.areal_weight;
      thickness += mass / p.reinforcement.density, density += mass;
      u_weight += mass * p.reinforcement.spread.areal_weight;  // in common: added, not in squares
    }
    u_weight /= density, density /= thickness;
  }
  out.glass.g = solid * density;
  out.glass.U = kCoverage * u_weight * out.glass.g;
  const double u_gap = std::sqrt(offset * offset + warm * warm + noise + motion.dot(map.registration * motion));
  out.resin.g = volume * options.resin_density;
  out.resin.U = kCoverage * std::hypot(u_gap, u_weight * solid) * options.resin_density;
  // What bled is in the filling's resin and not in the part.
  const bool bleeds = std::any_of(flow.vents.begin(), flow.vents.end(), [](const Vent& v) { return v.bleed > 0; });
  if (bleeds) {
    double held = volume;
    for (const Pocket& p : filling.pockets) held -= p.final_volume;
    out.waste = std::max(0.0, filling.resin - held) * options.resin_density;
  }
  out.cost = prices.glass * out.glass.g + prices.resin * (out.resin.g + out.waste);
  return out;
}

}  // namespace gapfront::flow
