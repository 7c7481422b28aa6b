// Corrections a person can carry out, each with its effect re-computed through gap → laminate → flow.
#pragma once
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/conformity.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

/// A place on the flange where shims are set; `present` is what lies there now.
struct Station {
  std::string name;
  Vec3 at;
  double present = 0;
};

struct CorrectOptions {
  std::vector<Station> stations;
  std::vector<double> stock;       ///< shim thicknesses at hand, mm
  int max_pieces = 4;              ///< in one stack
  double filler_density = 1.8e-3;  ///< g/mm³ (filled tooling paste; from memory)
  double waste = 1.2;              ///< factor on filler volume
  double min_size = 25;            ///< smallest workable region across, mm
  std::string face = "";           ///< "lower", "upper" or "" (the tool chooses and says why)
  Ply patch;                       ///< reinforcement for glass patches; count 0: chosen from the laminate
  int most = 12;                   ///< candidates to verify
  bool touch_tool = true;          ///< false: no work on the faces; shims and glass only
};

enum class Kind { shim, build_up, relief, glass_patch, radius_packing };
const char* to_string(Kind);

/// What a state of the tool looks like in a few numbers.
struct Effect {
  double nonconforming_area = 0, out_of_tolerance_area = 0;  ///< mm²: provably out; point value out
  double greatest_lead_s = 0, rms_lead_s = 0;
  double dry_area = 0;      ///< sheet area in pockets, mm²
  double fill_time = 0;     ///< s
  double last_to_vent = 0;  ///< mm
};

struct ShimChange {
  std::string station;
  double change = 0;
  std::vector<double> stack;
  double carries_gap = 0;
};  ///< mm; new stack; clearance over it when it does not carry

struct Correction {
  Kind kind{};
  std::string name;    ///< "C1"…
  std::string face;    ///< "lower", "upper", "flange" or "laminate"
  std::string region;  ///< DeviationRegion name, if any
  Vec3 centre = Vec3::Zero();
  double area = 0, mean = 0, peak = 0, volume = 0, mass = 0;  ///< mm², mm (thickness to add or take), mm, mm³, g
  std::vector<Vec3> outline;                                  ///< closed, tool coordinates
  std::vector<ShimChange> shims;
  std::string instruction;  ///< one plain sentence
  double effort = 0;        ///< from the effort table, hours
  Effect before, after;
  double benefit = 0;               ///< loss(before) − loss(after), per hour of effort; see loss()
  std::vector<LaminateZone> added;  ///< glass that comes on top (patch, packing)
  std::vector<double> gap_change;   ///< per node, mm (not written out)
};

struct CorrectionPlan {
  Effect now;
  std::vector<Correction> candidates;  ///< every candidate alone, ranked by benefit per effort
  std::vector<int> chosen;             ///< greedy combination, in order
  std::vector<Effect> after_each;      ///< after each chosen step, cumulative
  Effect after;                        ///< after all chosen
  std::vector<double> gap_after;       ///< per node, mm; from the nominal gap where nothing is measured
  LaminateOptions laminate_after;      ///< with the patches and packing that were chosen
  std::string remains;                 ///< what stays uncured, in one sentence
  std::vector<std::string> warnings;
};

/// How bad a state is, as the sum of shares: area out of tolerance (mean of provable and point value) and dry area, of
/// the sheet; RMS lead, of the nominal fill time. Own choice: each counts the same, because each alone spoils a part.
double loss(const Effect&, double sheet_area, double nominal_fill_time);

struct CorrectInput {
  const Sheet& sheet;
  const GapMap& gap;
  const ToleranceOptions& tolerance;
  const Verdict& verdict;
  const LaminateOptions& laminate;
  const FlowOptions& flow;
  const Filling& nominal;
  const Filling& measured;
  const Lead& lead;
};
CorrectionPlan plan_corrections(const CorrectInput&, const CorrectOptions&, const Progress& = {});

/// Change of the gap per node when the shim stack at each station changes by `change` (mm): the rigid upper
/// half rests on the stations that carry (the supporting plane of the raised stations under the load point).
std::vector<double> shim_effect(const Sheet&, const GapMap&, const std::vector<Station>&,
                                const std::vector<double>& change);

}  // namespace gapfront
