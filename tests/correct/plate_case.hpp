// A whole case on a plate, for the tests of the plan.
#pragma once
#include "../conformity/plate.hpp"
#include "gapfront/correct.hpp"

namespace plate {

/// A plate 240 × 180 mm filled from its rim to a vent in the middle, two mats of 3.3 mm loft in a 3 mm gap.
struct Case {
  Sheet sheet = plate::sheet(240, 180, 10);
  GapMap gap;
  ToleranceOptions tolerance;
  Verdict verdict;
  LaminateOptions laminate;
  FlowOptions flow;
  CorrectOptions options;
  Filling nominal, measured;
  Lead lead;

  explicit Case(const std::function<double(const Vec3&)>& value, bool stations = true) {
    gap = plate::gap(sheet, 0.01, value);
    verdict = conformity::judge(sheet, gap, tolerance);
    Reinforcement mat;
    mat.name = "test mat", mat.areal_weight = 450e-6, mat.loft = 1.65, mat.density = 2.55e-3;
    mat.permeability.kind = PermeabilityLaw::Kind::power;
    mat.permeability.a = 7e-6, mat.permeability.b = 2.5;
    mat.compaction.a = 0.03, mat.compaction.b = 0.2;
    laminate.plies = {{mat, 2, 0}};
    flow.viscosity = 0.2;
    flow.closing.force = 1e10;  // 10 kN of clamps: twice what the resin's 1.2 bar can push on 432 cm²
    Inlet inlet;
    inlet.name = "rim", inlet.perimeter = true;
    flow.inlets = {inlet};
    Vent vent;
    vent.name = "middle", vent.path = {Vec3::Zero()}, vent.radius = 11;
    flow.vents = {vent};
    if (stations) {
      options.stations = {{"S1", Vec3(-140, -110, 0), 1},
                          {"S2", Vec3(140, -110, 0), 1},
                          {"S3", Vec3(140, 110, 0), 1},
                          {"S4", Vec3(-140, 110, 0), 1}};
      options.stock = {0.05, 0.1, 0.2, 0.5, 1};
    }
    std::vector<double> now;
    for (const auto& n : gap.nodes) now.push_back(n.gap);
    nominal = flow::fill(sheet, laminate::evaluate_laminate(sheet, verdict.nominal, laminate), flow);
    measured = flow::fill(sheet, laminate::evaluate_laminate(sheet, now, laminate), flow);
    lead = flow::compare_fillings(sheet, nominal, measured);
  }
  CorrectionPlan plan() const {
    return correct::plan_corrections({sheet, gap, tolerance, verdict, laminate, flow, nominal, measured, lead},
                                     options);
  }
};

/// A face 0.6 mm too low at the deepest of a bump 45 mm wide.
inline double low(const Vec3& p) { return 0.6 * bump(p, Vec3(60, -30, 0), 45); }

}  // namespace plate
