// Darcy flow of resin in the sheet with a moving front.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// Where resin enters. The whole rim (perimeter runner), or the nodes within `radius` of a path.
struct Inlet {
  std::string name;
  bool perimeter = false;
  std::vector<Vec3> path;
  double radius = 5;
};
/// Where air leaves; closes for air when resin reaches it, after `bleed` seconds of resin.
struct Vent {
  std::string name;
  std::vector<Vec3> path;
  double radius = 5;
  double bleed = 0;
};
struct RateStep {
  double from = 0;
  double rate = 0;
};  ///< from this injected volume (mm³) on, mm³/s

struct FlowOptions {
  double viscosity = 0.2;  ///< Pa s
  std::vector<Inlet> inlets;
  std::vector<Vent> vents;
  std::vector<RateStep> schedule;      ///< empty: constant pressure at the limit
  double pressure_limit = 120000;      ///< at the inlet, above atmosphere, Pa
  double cavity_pressure = 50662.5;    ///< absolute, at the open vents, Pa
  double clamping_pressure = 50662.5;  ///< holding the halves together, Pa (for the opening margin)
  double gel_time = 0;                 ///< s; 0: unknown
};

/// Air the front has closed around with no open vent.
struct Pocket {
  Vec3 centre = Vec3::Zero();
  double closed_at = 0;       ///< s
  double initial_volume = 0;  ///< gas volume when it was closed, mm³
  double final_volume = 0;    ///< gas volume at the end, mm³ (isothermal, Boyle)
  double final_pressure = 0;  ///< absolute, Pa
  double area = 0;            ///< sheet area left dry, mm²
  std::vector<int> nodes;     ///< nodes inside when it closed
};
struct FlowSample {
  double time, inlet_pressure, rate, filled;
};  ///< s, Pa above atmosphere, mm³/s, share [0,1]

struct Filling {
  std::vector<double> arrival;        ///< s per node; +infinity where resin never comes
  std::vector<double> peak_pressure;  ///< highest resin pressure per node, absolute, Pa
  double fill_time = 0;               ///< s: last node reached, or the flow has stopped against trapped gas
  int last_node = -1;                 ///< last node reached
  double last_to_vent = 0;            ///< its distance from the nearest vent, mm
  std::vector<Pocket> pockets;
  std::vector<FlowSample> history;
  std::vector<double> vent_closed_at;  ///< per vent, s; +infinity if never reached
  double injected = 0, resin = 0;      ///< mm³ in through the inlets, and held by the sheet (plus vent bleed)
  double opening_margin = 0;  ///< least of clamping − (resin − atmosphere) over place and time, Pa; negative: may open
  int opening_node = -1;
  std::vector<std::string> warnings;
};
/// Throws Error{Fault::input} for no inlet, no vent, or one that touches no node.
Filling fill(const Sheet&, const LaminateMap&, const FlowOptions&, const Progress& = {});

struct LeadRegion {
  Vec3 centre;
  double area, peak_s, mean_s;
  std::vector<int> nodes;
};
struct Lead {
  std::vector<double> seconds;  ///< nominal arrival − measured arrival per node; positive: early
  std::vector<double> mm;       ///< seconds × local speed of the nominal front
  std::vector<double> percent;  ///< of the nominal fill time
  double greatest_s = 0, rms_s = 0;
  int greatest_node = -1;
  std::vector<LeadRegion> regions;  ///< ranked, greatest first
};
Lead compare_fillings(const Sheet&, const Filling& nominal, const Filling& measured);

/// A flow schedule that stays under the limit all the way: 2–5 steps, fast first.
std::vector<RateStep> recommend_schedule(const Sheet&, const LaminateMap&, const FlowOptions&, double safety = 0.9);

}  // namespace gapfront
