// Logs of shots that were never made: fillings of a tool that differs from its job in a planted way, with the scatter
// of gap, glass and resin that every shot has, and read by a gauge.
#pragma once
#include <random>

#include "gapfront/draws.hpp"
#include "gapfront/shot.hpp"
#include "shop.hpp"

namespace gapfront::test {

struct PlantedShot {
  ShotCause cause = ShotCause::none;
  double amount = 0;  ///< as ShotCandidate::amount
  int vent = 0;       ///< of a clogged one
  int side = 0;       ///< of a race-track: 0 the whole rim, ±1 the side of larger or smaller y
  bool viscosity_known = false;
};

/// A face with resin from the left edge and a vent at each corner of the right one, filled at a rate in about a minute.
struct ShotShop : Shop {
  std::vector<double> nominal_gap;
  ShotShop() {
    flow.viscosity = 0.2;
    flow.vents = {{"near", {Vec3(200, 6, 0)}, 8, 0}, {"far", {Vec3(200, 114, 0)}, 8, 0}};
    flow.schedule = {{0, 656}};
    flow.pressure_limit = 1.3e5;
    nominal_gap.assign(sheet.size(), 2);
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      NodeGap& n = gap.nodes[i];
      n.measured = true, n.gap = 2, n.u_lower = n.u_upper = 0.007, n.U = 0.02;
      n.mid = sheet.mesh.points[i] + Vec3(0, 0, 1);
    }
  }
};

struct TrueShot {
  LaminateMap laminate;
  FlowOptions flow;
  double viscosity;  ///< of its resin
  double leak = 0;   ///< mm³/s per Pa above atmosphere
};

inline TrueShot true_shot(const ShotShop& shop, const PlantedShot& p, std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  // From shot to shot in a steady shop: 5 % in the resin, 5 % in the glass's batch; in a part 20 % from place to place.
  const double resin = std::exp(0.05 * normal(random)), batch = std::exp(0.05 * normal(random));
  const Draw draw = Draws(shop.sheet, shop.gap, {.spread = 0.2, .length = 25}, unsigned(random()))(1);
  LaminateOptions glass = shop.laminate;
  TrueShot out{{}, shop.flow, shop.flow.viscosity * resin};
  auto gap = shop.nominal_gap;
  for (std::size_t i = 0; i < gap.size(); ++i) gap[i] += draw.gap[i];
  double permeability = batch;
  switch (p.cause) {
    case ShotCause::thick_resin:
    case ShotCause::thin_resin:
      out.viscosity *= p.amount;
      break;
    case ShotCause::low_permeability:
    case ShotCause::high_permeability:
      permeability *= p.amount;
      break;
    case ShotCause::more_glass:
    case ShotCause::less_glass:
      for (Ply& ply : glass.plies) ply.count *= p.amount;
      break;
    case ShotCause::wide_gap:
      for (double& g : gap) g += p.amount;
      break;
    case ShotCause::poor_vacuum:
      out.flow.cavity_pressure += p.amount;
      break;
    case ShotCause::clogged_vent:
      out.flow.vents[p.vent].blocked_from = 0;
      break;
    case ShotCause::pump:
      for (RateStep& s : out.flow.schedule) s.rate *= p.amount;
      break;
    default:
      break;
  }
  out.flow.viscosity = out.viscosity;
  out.laminate = laminate::evaluate_laminate(shop.sheet, gap, glass);
  auto factor = draw.permeability;
  for (double& f : factor) f *= permeability;
  flow::scatter_reinforcement(out.laminate, factor);
  if (p.cause == ShotCause::race_track)
    for (std::size_t i = 0; i < shop.sheet.size(); ++i)
      if (shop.sheet.rim[i] && (p.side == 0 || p.side * (shop.sheet.mesh.points[i].y() - 60) > 0))
        out.laminate.nodes[i].conductance *= p.amount, out.laminate.nodes[i].conductance2 *= p.amount;
  return out;
}

/// What leaks does not come into the cavity: its rate is what the pump gives less that, found by filling again.
inline Filling leaking(const ShotShop& shop, TrueShot& t, double share) {
  const double rate = t.flow.schedule[0].rate;
  Filling f = flow::fill(shop.sheet, t.laminate, t.flow);
  double over = 0, last = 0;
  for (const FlowSample& s : f.history) over += std::max(0.0, s.inlet_pressure) * (s.time - last), last = s.time;
  t.leak = share * rate * last / std::max(over, 1.0);
  for (int round = 0; round < 4; ++round) {
    double volume = 0;
    std::vector<RateStep> steps;
    last = 0;
    for (const FlowSample& s : f.history) {
      steps.push_back({volume, std::max(0.2 * rate, rate - t.leak * std::max(0.0, s.inlet_pressure))});
      volume += s.rate * (s.time - last), last = s.time;
    }
    t.flow.schedule = steps;
    f = flow::fill(shop.sheet, t.laminate, t.flow);
  }
  return f;
}

/// Read twice a second, until half a minute after the resin has come to rest.
inline ShotLog planted_log(const ShotShop& shop, const PlantedShot& p, std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  TrueShot t = true_shot(shop, p, random);
  const Filling f =
      p.cause == ShotCause::resin_leak ? leaking(shop, t, p.amount) : flow::fill(shop.sheet, t.laminate, t.flow);
  ShotLog log;
  const auto& h = f.history;
  double volume = 0, time = 0;
  std::size_t k = 0;
  const double end = h.back().time;
  while (time < end + 30) {
    while (k + 1 < h.size() && h[k].time < time) ++k;
    const double before = k ? h[k - 1].time : 0, part = std::clamp((time - before) / (h[k].time - before), 0.0, 1.0);
    const auto between = [&](double FlowSample::*m) {
      return k ? h[k - 1].*m + part * (h[k].*m - h[k - 1].*m) : h[k].*m;
    };
    const double pressure = between(&FlowSample::inlet_pressure);
    log.samples.push_back({time, pressure + 1000 * normal(random), volume});
    volume += 0.5 * ((time <= end ? between(&FlowSample::rate) : 0) + t.leak * std::max(0.0, pressure));
    time += 0.5;
  }
  for (std::size_t v = 0; v < t.flow.vents.size(); ++v) {
    const double at = t.flow.vents[v].blocked_from > 0 ? f.vent_closed_at[v] : INFINITY;
    log.vents.push_back({t.flow.vents[v].name, std::isfinite(at) ? at + 0.5 * normal(random) : INFINITY});
  }
  if (p.viscosity_known) log.viscosity = t.viscosity * std::exp(0.04 * normal(random));
  return log;
}

/// Thirty causes, three or so of each, in amounts as a shop has them.
inline std::vector<PlantedShot> thirty_causes() {
  using C = ShotCause;
  return {{C::thick_resin, 1.5},
          {C::thick_resin, 1.8},
          {C::thick_resin, 1.6, 0, 0, true},
          {C::thin_resin, 0.6},
          {C::thin_resin, 0.5, 0, 0, true},
          {C::low_permeability, 0.55, 0, 0, true},
          {C::low_permeability, 0.65, 0, 0, true},
          {C::high_permeability, 1.7, 0, 0, true},
          {C::more_glass, 1.2},
          {C::more_glass, 1.3},
          {C::more_glass, 1.25, 0, 0, true},
          {C::less_glass, 0.8},
          {C::less_glass, 0.75},
          {C::wide_gap, 0.25},
          {C::wide_gap, 0.35},
          {C::wide_gap, 0.3, 0, 0, true},
          {C::race_track, 40, 0, 1},
          {C::race_track, 60, 0, -1},
          {C::race_track, 30, 0, 0},
          {C::resin_leak, 0.15},
          {C::resin_leak, 0.2},
          {C::resin_leak, 0.25, 0, 0, true},
          {C::poor_vacuum, 30e3},
          {C::poor_vacuum, 40e3},
          {C::poor_vacuum, 35e3, 0, 0, true},
          {C::clogged_vent, 1, 0},
          {C::clogged_vent, 1, 1},
          {C::pump, 0.6},
          {C::pump, 0.75},
          {C::pump, 0.7, 0, 0, true}};
}

}  // namespace gapfront::test
