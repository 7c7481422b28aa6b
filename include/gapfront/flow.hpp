// Darcy flow of resin in the sheet with a moving front.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/closing.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// Where resin enters. The whole rim (perimeter runner), or the nodes within `radius` of a path. A perimeter runner
/// whose section is given resists along its length, holds resin, and is fed at the path.
struct Inlet {
  std::string name;
  bool perimeter = false;
  std::vector<Vec3> path;
  double radius = 5;
  double runner_width = 0, runner_depth = 0;  ///< mm; 0: as wide as it takes
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
  std::vector<RateStep> schedule;    ///< empty: constant pressure at the limit
  double pressure_limit = 120000;    ///< at the inlet, above atmosphere, Pa
  double cavity_pressure = 50662.5;  ///< absolute, at the open vents, Pa
  ClosingOptions closing;            ///< what holds the halves together besides the vacuum
  double gel_time = 0;               ///< s; 0: unknown
  /// A pocket has come to rest when the resin around it presses no more than this share harder than its gas.
  double pocket_rest = 2e-3;
  double cells_per_step = 1.2;       ///< rows of cells that the front takes per step; more is faster and coarser
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
  double fill_time = 0;     ///< s: last node reached; where air is trapped, 99.9 % of the resin that will come has come
  int last_node = -1;       ///< last node reached by then
  double last_to_vent = 0;  ///< its distance from the nearest vent, mm
  std::vector<Pocket> pockets;
  std::vector<FlowSample> history;
  std::vector<double> vent_closed_at;  ///< per vent, s; +infinity if never reached
  double injected = 0, resin = 0;      ///< mm³ in through the inlets, and held by the sheet (plus vent bleed)
  Opening opening;                     ///< whether the mold stays shut
  std::vector<std::string> warnings;
};
/// Throws Error{Fault::input} for no inlet, no vent, or one that touches no node.
Filling fill(const Sheet&, const LaminateMap&, const FlowOptions&, const Progress& = {});

/// Nodes that lead by more than `lead_threshold`, and where the lead comes from.
struct LeadRegion {
  Vec3 centre = Vec3::Zero();
  double area = 0, peak_s = 0, mean_s = 0;  ///< mm², s
  std::vector<int> nodes;
  double peak_mm = 0, peak_percent = 0;  ///< greatest lead in mm of front and in % of the nominal fill time
  int peak_node = -1;
  std::vector<int> path;       ///< the way of the resin from the inlet to the peak, nodes
  std::vector<double> gained;  ///< lead gained on the way to each of them, s
  int source = -1;             ///< node on the path by which half of the lead has been gained
  std::string fed_by;          ///< name of the deviating region that it gains most in, if any
  double probability = -1;     ///< that it leads, of the ensemble; −1: not computed
};
struct Lead {
  std::vector<double> seconds;  ///< nominal arrival − measured arrival per node; positive: early
  std::vector<double> mm;       ///< seconds × local speed of the nominal front
  std::vector<double> percent;  ///< of the nominal fill time
  double greatest_s = 0, rms_s = 0;
  int greatest_node = -1;
  std::vector<LeadRegion> regions;  ///< ranked, greatest first
};
/// Below this a lead is within what scatter of the glass does to a front (3 % of the fill time), s.
double lead_threshold(const Filling& nominal);
Lead compare_fillings(const Sheet&, const Filling& nominal, const Filling& measured);

/// A part of the sheet where the glass is squeezed harder than the clamping there.
struct PackedRegion {
  Vec3 centre = Vec3::Zero();
  double area = 0;   ///< mm²
  double load = 0;   ///< of the glass, along the opening axis, Pa·mm²
  double share = 0;  ///< of the load of the whole sheet
};
/// Can the mold be closed on its glass, before any resin?
struct Closing {
  double closing = 0;                 ///< vacuum and mechanical, Pa·mm²
  double glass = 0;                   ///< ∫ compaction dA along the opening axis, Pa·mm²
  double area = 0;                    ///< of the sheet, projected on the opening axis, mm²
  double stands_open = 0;             ///< if it cannot close: how far a rigid half stays off everywhere, mm
  std::vector<PackedRegion> regions;  ///< largest load first
  bool closes() const { return glass <= closing; }
};
Closing close_mold(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&);

/// What a schedule comes to when the fill is run with it.
struct ScheduleResult {
  double fill_time = 0, peak_pressure = 0;  ///< s; Pa above atmosphere at the inlet
  double least_margin = 0;                  ///< closing − opening, Pa·mm²
  double least_safety = 0;                  ///< closing / opening
  double least_local = 0;                   ///< local margin, Pa
  double dry_area = 0;                      ///< mm²
};
/// A flow schedule that stays under the limits all the way: 2–5 steps, fast first. Where a step's rate would take more,
/// and at the end, where the front closes on the vent and any rate would, the pump holds `pressure_limit`.
struct ProcessAdvice {
  std::vector<RateStep> steps;    ///< empty: no rate keeps the mold shut
  double pressure_limit = 0;      ///< what the pump is set to hold at the most, above atmosphere, Pa
  ScheduleResult own, advised;    ///< both from fills that were run
  bool bound_by_opening = false;  ///< the opening margin, not the inlet's limit, sets at least one step
  std::vector<std::string> notes;
};
/// The inlet stays below `safety` × pressure limit, and closing above `closing.safety` × opening, from the first resin
/// to the last. `own` is the fill with the options as they are. The advice is run, and slowed until it holds.
ProcessAdvice advise_process(const Sheet&, const LaminateMap&, const FlowOptions&, const Filling& own,
                             double safety = 0.9);

}  // namespace gapfront
