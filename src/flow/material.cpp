// Glass and resin of a part.
#include "gapfront/material.hpp"

#include <algorithm>
#include <cmath>

#include "core/area_mean.hpp"

namespace gapfront::flow {
namespace {

// Expanded, k = 2 (JCGM 100:2008, 6.3).
constexpr double kExpanded = 2;
// Relative standard uncertainties: of the density of liquid resin (from memory), and of glass that nobody has weighed
// (the built-in list's ± 5 %, from memory).
constexpr double kResinDensity = 0.01, kUnweighed = 0.025;

/// Of the glass per area; all plies together, those of zones too, as from one roll.
double weight_spread(const LaminateOptions& o) {
  double mass = 0, u = 0;
  for (const Ply* p : laminate::all_plies(o)) {
    const double m = p->count * p->reinforcement.areal_weight, s = p->reinforcement.spread.areal_weight;
    mass += m, u += m * (s > 0 ? s : kUnweighed);
  }
  return mass > 0 ? u / mass : 0;
}

/// Volume of the fibres, mm³.
double solid_volume(const Sheet& sheet, const LaminateMap& laminate) {
  double out = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const NodeLaminate& n = laminate.nodes[i];
    out += sheet.area[i] * n.fluid_thickness * (1 / std::max(n.porosity, 1e-9) - 1);
  }
  return out;
}

double fluid_volume(const Sheet& sheet, const LaminateMap& laminate) {
  double out = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) out += sheet.area[i] * laminate.nodes[i].fluid_thickness;
  return out;
}

}  // namespace

MaterialUse part_masses(const Sheet& sheet, const LaminateMap& laminate, const LaminateOptions& options,
                        const FlowOptions& flow) {
  MaterialUse out;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const NodeLaminate& n = laminate.nodes[i];
    const double share = std::clamp(n.weight_fraction, 0.0, 1 - 1e-9);  // of a hardened part
    out.glass.g += sheet.area[i] * n.fluid_thickness * options.resin_density * share / (1 - share);
  }
  out.resin.g = fluid_volume(sheet, laminate) * flow.gravity.density;
  return out;
}

MaterialUse material_use(const Sheet& sheet, const GapMap& map, const LaminateMap& laminate,
                         const LaminateOptions& options, const FlowOptions& flow, const Filling& filling,
                         const Prices& prices) {
  MaterialUse out = part_masses(sheet, laminate, options, flow);
  const double spread = weight_spread(options), density = flow.gravity.density;
  std::vector<double> h(sheet.size());
  for (std::size_t i = 0; i < h.size(); ++i) h[i] = map.nodes[i].measured ? sheet.area[i] : 0;
  const double volume = sum_errors(sheet, map, shared_fits(sheet, map), h).u();
  out.glass.U = kExpanded * spread * out.glass.g;
  out.resin.U = kExpanded * std::hypot(density * std::hypot(volume, spread * solid_volume(sheet, laminate)),
                                       kResinDensity * out.resin.g);
  const bool bleeds = std::any_of(flow.vents.begin(), flow.vents.end(), [](const Vent& v) { return v.bleed > 0; });
  const bool runner =
      std::any_of(flow.inlets.begin(), flow.inlets.end(), [](const Inlet& i) { return i.has_section(); });
  if (bleeds || runner) {  // otherwise the difference is the raggedness of the front on the mesh
    double held = fluid_volume(sheet, laminate);
    for (const Pocket& p : filling.pockets) held -= p.final_volume;
    out.waste = std::max(0.0, filling.resin - held) * density;
  }
  out.hose = flow.supply.hose_volume() * density;
  out.cost = prices.glass * out.glass.g + prices.resin * (out.resin.g + out.waste + out.hose);
  return out;
}

}  // namespace gapfront::flow
