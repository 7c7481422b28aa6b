// A small shop for the diagnosis: a coarse flat face 200 × 120 mm, resin from the left edge, a vent amid the right one.
#pragma once
#include <cmath>
#include <random>

#include "../flow/sheets.hpp"
#include "gapfront/diagnose.hpp"

namespace gapfront::test {

struct Shop {
  Sheet sheet = cavity::make_sheet(strip(20, 12, 200, 120).mesh);
  ToleranceOptions tolerance;
  LaminateOptions laminate;
  FlowOptions flow;
  GapMap gap;
  Verdict verdict;
  Filling nominal, measured;
  Lead lead;

  Shop() {
    tolerance.nominal = 2, tolerance.minus = tolerance.plus = 0.2;
    Ply ply;
    ply.count = 2;
    ply.reinforcement.areal_weight = 450e-6, ply.reinforcement.loft = 1.2;
    ply.reinforcement.permeability.a = 1e-5, ply.reinforcement.permeability.b = 2.5;
    ply.reinforcement.compaction.a = 0.04, ply.reinforcement.compaction.b = 0.2;
    laminate.plies = {ply};
    flow.inlets = {{"left edge", false, {Vec3(0, 0, 0), Vec3(0, 120, 0)}, 1}};
    flow.vents = {{"right", {Vec3(200, 60, 0)}, 6, 0}};
    gap.nodes.resize(sheet.size());
  }
  void measure(std::mt19937_64& random, const std::vector<std::pair<Region, double>>& changes) {
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      NodeGap& n = gap.nodes[i];
      n.measured = true, n.gap = 2 + 0.01 * normal(random), n.u_lower = n.u_upper = 0.007, n.U = 0.02;
      n.mid = sheet.mesh.points[i] + Vec3(0, 0, 1);
      for (const auto& [where, change] : changes)
        if (where.contains(sheet.mesh.points[i])) n.gap += change;
    }
    verdict = conformity::judge(sheet, gap, tolerance);
    std::vector<double> g;
    for (const auto& n : gap.nodes) g.push_back(n.gap);
    nominal = flow::fill(sheet, laminate::evaluate_laminate(sheet, verdict.nominal, laminate), flow);
    measured = flow::fill(sheet, laminate::evaluate_laminate(sheet, g, laminate), flow);
    lead = flow::compare_fillings(sheet, nominal, measured);
  }
  CorrectInput facts() const { return {sheet, gap, tolerance, verdict, laminate, flow, nominal, measured, lead}; }
};

inline Region box(double x0, double x1, double y0, double y1) {
  Region r;
  r.box = {Vec3(x0, y0, -1), Vec3(x1, y1, 1)};
  return r;
}

inline LaminateZone reinforcement(const std::string& name, const Region& where, const Ply& ply) {
  LaminateZone z;
  z.name = name, z.where = where, z.adds = true, z.plies = {ply};
  z.plies[0].count = 1;
  return z;
}

/// The largest pocket of a filling that three nodes resolve, as a spot seen on parts; none: none.
inline std::vector<DrySpot> spot_of(const Filling& f, double size = 30) {
  const Pocket* most = nullptr;
  for (const Pocket& p : f.pockets)
    if (!most || p.initial_volume > most->initial_volume) most = &p;
  if (!most || most->nodes.size() < 3) return {};
  DrySpot s;
  s.at = most->centre, s.size = size;
  return {s};
}

}  // namespace gapfront::test
