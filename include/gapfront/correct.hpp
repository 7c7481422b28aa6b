// Corrections a person can carry out, each with its effect re-computed through gap → laminate → flow.
#pragma once
#include <cmath>
#include <limits>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/breathing.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/conformity.hpp"
#include "gapfront/ensemble.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/marking.hpp"
#include "gapfront/material.hpp"
#include "gapfront/outcome.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

/// A place on the flange where shims are set; `present` is what lies there now.
struct Station {
  std::string name;
  Vec3 at;
  double present = 0;
  bool proposed = false;  ///< by the program, because the job gives none
};

/// What kind of work a correction is.
enum class Kind {
  shim,
  build_up,
  relief,
  reinforcement_patch,
  radius_packing,
  vent_move,
  inlet_move,
  vent_add,      ///< a second vent
  vent_enlarge,  ///< the vent takes in more of the face
  overlap_cut,   ///< plies that overlap are butted
  filling_ply,   ///< a ply more, everywhere, so that the glass fills the section
  other_stack,   ///< other numbers of the plies at hand
  inlet_add,     ///< the resin enters at a second place as well
  vacuum_level,  ///< another cavity vacuum
  lower_limit,   ///< the pump is set to hold less pressure
  pump_steps,    ///< other rates, in steps, under another limit
  resin_warmed,  ///< resin that flows more easily
  vent_open,     ///< a vent that is closed by hand too soon stays open until resin comes
};
constexpr int kKinds = 18;
const char* to_string(Kind);

/// What a correction costs: hours = fixed + each · (stations) + per_cm2 · area + per_part · (parts of the run).
struct Effort {
  Kind kind;
  double fixed, each, per_cm2, per_part;  ///< h, h, h/cm², h
  Message what;                           ///< the job's own words stand in list.plain
};

/// What is laid into every part is counted for so many where no prices say how many are to come (own choice).
constexpr int counted_parts = 20;

/// In the currency of the prices: mean and 95 % interval (two standard errors of pairs of the same draws).
struct Saving {
  double mean = 0, low = 0, high = 0;
};

namespace correct {
/// Order of magnitude, from memory: it ranks corrections and is no quotation. A job can put its own in their place.
std::vector<Effort> default_effort();

/// Shims as they are sold, mm: "metric" or "inch" (common practice, no source). Throws Error{Fault::input} otherwise.
std::vector<double> stock_set(const std::string& name);
}  // namespace correct

/// What is on the tool at a place that a tape can be held to; `other`: its name says it ("dowel 1").
enum class Mark { other, target, station };
const char* to_string(Mark);
/// A named place that a tape can be held to.
struct Reference {
  std::string name;
  Vec3 at;
  double radius = 0;  ///< of a target's ball: the tape is held to the ball's near side, mm
  Mark mark = Mark::other;
};

/// How far work ends from what was ordered; standard uncertainties. Own choice: a face worked by hand to depth stops
/// and checked with a gauge is off by a shop step; a stack is measured with a micrometer on clean faces.
struct Workmanship {
  double hand = 0.05;  ///< of a depth filled or ground by hand, mm
  double reach = 20;   ///< over which that error is alike, mm: the depth stops' spacing
  double shim = 0.01;  ///< of a stack, mm
};

/// What may be done to the tool, with what, and how well.
struct CorrectOptions {
  std::vector<Station> stations;   ///< empty: `propose` of them are laid out evenly along the flange
  std::vector<double> stock;       ///< shim thicknesses at hand, mm; empty: no shims
  int max_pieces = 4;              ///< in one stack
  double filler_density = 1.8e-3;  ///< g/mm³ (filled tooling paste; from memory)
  double waste = 1.2;              ///< factor on filler volume
  double min_size = 25;            ///< smallest workable region across, mm
  std::string face = "";           ///< "lower", "upper" or "" (the tool chooses and says why)
  Ply patch;                       ///< reinforcement for glass patches; count 0: chosen from the laminate
  int most = 12;                   ///< candidates to verify
  bool touch_tool = true;          ///< false: no work on the faces, the flange or the ports; shims and glass only
  int propose = 6;                 ///< stations proposed when none is given
  double flange_margin = 20;       ///< proposed stations stand so far outside the rim of the sheet, mm
  double present = 0;              ///< what lies at a proposed station now, mm
  double max_stack = 0;            ///< greatest stack, mm; 0: no limit
  double relieve_flange = 0;       ///< so much may be taken off the flange at a station, mm; 0: nothing
  double blend = 15;               ///< width around the outline over which the work is feathered out, mm
  double contour_step = 0.1;       ///< of the thickness contours, mm
  double stop_spacing = 20;        ///< of the grid of depth stops, mm
  double shop_step = 0.05;         ///< depths to add or take are given in whole steps of this, mm
  Workmanship workmanship;
  bool letter = false;  ///< templates on Letter paper instead of A4
  std::vector<Effort> effort = correct::default_effort();
  Prices prices;                      ///< where they decide, plans are chosen by the expected cost of the run
  double least_cavity_pressure = 0;   ///< absolute, to which the cavity may be evacuated, Pa; 0: the vacuum stays
  double warm_viscosity = 0;          ///< of the resin as it may be warmed, Pa s; 0: it stays as it is
  double warm_gel_time = 0;           ///< of that, s; 0: not known
  std::vector<Reference> references;  ///< targets, dowels; stations that are given count as well
};

/// What a state of the tool looks like in a few numbers.
struct Effect {
  /// mm²: provably out; point value out. After work, in a plan that is made, the latter is the mean over the
  /// workmanship.
  double nonconforming_area = 0, out_of_tolerance_area = 0;
  double max_lead_s = 0, rms_lead_s = 0;
  double dry_area = 0;      ///< sheet area in pockets, mm²
  double fill_time = 0;     ///< s
  double last_to_vent = 0;  ///< mm
  /// Of fillings drawn at random, see `CorrectInput::ensemble`: share that trap air, and the sheet area in pockets,
  /// mean over all of them, mm². NaN: none were drawn.
  double pocket = std::numeric_limits<double>::quiet_NaN(), expected_dry_area = pocket;
  /// Least of closing over opening force of the whole mold, in the course of the fill and before it; +infinity: nothing
  /// opens it. Least local margin, Pa.
  double closing_balance = std::numeric_limits<double>::infinity();
  double local_margin = std::numeric_limits<double>::infinity();
  double over_packed_area = 0, under_filled_area = 0;  ///< mm², in the gap as scanned
  double weight_out_area = 0;                          ///< glass by weight outside its window, mm²
  /// Fill time over gel time; NaN: that is unknown. Where the front stopped as the resin gelled: what it would be at
  /// the least, one over the share that was full.
  double gel_fraction = std::numeric_limits<double>::quiet_NaN();
  bool settled = true;                ///< its filling did (flow::settled); what did not is never chosen
  double glass = 0, resin = 0;        ///< in a part, g
  double bad = 0;                     ///< chance that a part is bad, see correct::chance_of_a_bad_part()
  std::vector<DrawnFill> drawn = {};  ///< those fillings (only their number is written out)
};

namespace correct {
/// States drawn unequally often have different means by chance alone: they are not put side by side.
inline bool drawn_alike(const Effect& a, const Effect& b) {
  return std::isfinite(a.pocket) && std::isfinite(b.pocket) && a.drawn.size() == b.drawn.size();
}
}  // namespace correct

/// From what on a state counts as cured.
struct CureLimits {
  double out_area = 0;   ///< mm²
  double dry_area = 0;   ///< of the one filling computed, mm²: less is no dry spot
  double pocket = 0.05;  ///< chance of trapped air: one in twenty, the usual level
  /// Greatest lead, s: what the scatter of the glass does to the front of a true mold in nineteen of twenty fillings.
  double lead_s = std::numeric_limits<double>::infinity();
  double safety = 1.25;           ///< closing over opening force
  double reinforcement_area = 0;  ///< over-packed, and not filled, each, mm²
};
/// What is left to cure, or got worse: glass outside its window by weight spoils no part by itself, so that it is only
/// ever the latter.
enum class Uncured { tolerance, dry_area, lead, opening, over_packed, under_filled, gel, weight };
const char* to_string(Uncured);

namespace correct {
/// What is not cured, in that order; empty: all is.
std::vector<Uncured> uncured(const Effect&, const CureLimits&);
/// Nothing is uncured.
bool cured(const Effect&, const CureLimits&);
/// In what a state is worse than the one before, by more than the comparison can tell: area out of tolerance, dry area
/// (pairs of the same draws), closing, over-packed area, area outside the window by weight, gel. A closing margin
/// counts as far as it is wanted: a gap that was too wide squeezes its glass harder when it is put right, and that is
/// no harm while the mold stays shut.
std::optional<Uncured> worse(const Effect& before, const Effect& after, const CureLimits&);
}  // namespace correct

/// What is done at one station.
struct ShimChange {
  std::string station;
  double change = 0;          ///< of the height that lies there, mm
  std::vector<double> stack;  ///< the new one, piece by piece, mm
  double carries_gap = 0;     ///< clearance over it when it does not carry, mm
  Vec3 at = Vec3::Zero();     ///< tool frame, mm
  double relief = 0;          ///< to be taken off the flange, mm
};

/// One thing to change, with its effect re-computed.
struct Correction {
  Kind kind{};
  std::string name;    ///< "C1"…
  std::string face;    ///< "lower", "upper", "flange", "laminate" or "port"
  std::string region;  ///< DeviationRegion names, joined with " + ", if any
  Vec3 centre = Vec3::Zero();
  double area = 0, mean = 0, peak = 0, volume = 0, mass = 0;  ///< mm², mm (thickness to add or take), mm, mm³, g
  std::vector<Vec3> outline;                                  ///< closed, tool coordinates; of full depth, see blend
  std::vector<ShimChange> shims;
  Messages instruction;  ///< what to do, in one or two sentences
  double effort = 0;     ///< from the effort table, hours
  Effect before, after;
  double benefit = 0;  ///< loss(before) − loss(after), per hour of effort; see loss()
  /// Of the run's expected cost, its own hours taken off; where prices decide. Of a chosen step by the draws it was
  /// taken with.
  Saving saving;
  std::vector<LaminateZone> added;  ///< glass that comes on top (patch, packing)
  std::vector<double> gap_change;   ///< per node, mm (written out for chosen ones)
  Message why;                      ///< of the half that is worked, or how good the stacks are known to be
  double blend = 0;                 ///< feathered out over this width around the outline, mm
  double in_plane = 0;              ///< greatest sideways move of the upper half over the sheet, mm (shims)
  std::string port;                 ///< name of the vent or inlet that moves
  std::vector<Vec3> port_to;        ///< its new path
  double port_radius = 0;           ///< its new radius, mm; 0: as it is
  std::vector<std::string> cut;     ///< laminate zones that are left away
  std::vector<Ply> stack;           ///< plies in place of those of everywhere
  double setting = 0;               ///< limit, Pa above atmosphere; cavity, Pa absolute; or viscosity, Pa s
  double gel_time = 0;              ///< of resin that is warmed, s; 0: not known
  std::vector<RateStep> schedule;   ///< of pump steps; none: the limit alone
  std::vector<std::string> packed;  ///< inside radii that are packed with roving
  bool redesign = false;            ///< a true mold is changed as well: ports, glass of every part
  std::vector<double> inside;       ///< per node, mm inside the outline, negative outside (not written out)
  // What the work order needs; only of chosen corrections.
  std::vector<TapeLine> tape;  ///< two, or none where no tape finds the place well
  std::string tape_side;       ///< where the two lengths meet in several places: it is the one farthest to "+x"…
  std::vector<DepthStop> stops;
  std::vector<ThicknessLine> contours;
  std::vector<Template> templates;
  Message no_template;          ///< why there is none, if the work has an outline
  Vec3 facing = Vec3::UnitZ();  ///< unit: out of the face that is worked, into the cavity, in the middle of the work
};

namespace correct {
/// Puts the correction into gap (mm per node), glass and ports: the state that plan_corrections() and diagnose() fill.
/// The one place that knows what each kind changes.
void apply(const Correction&, std::vector<double>& gap, LaminateOptions&, FlowOptions&);

/// Whether a vent is closed by hand before resin has covered it.
bool closed_too_soon(const Filling&, const FlowOptions&, std::size_t vent);

/// Roving that fills this thickness, mm, of the fibre and with the laws of `like`.
Ply roving(const Ply& like, double thickness);

/// How a half lies on the bench, cavity side up, seen from above: x of the drawing to the right, y up. The lower half
/// lies as in the tool. The upper half is turned over about the tool's x axis: +x stays on the right, +y comes towards
/// who stands at the lower edge of the drawing.
inline Eigen::Vector2d on_bench(const Vec3& p, bool upper) { return {p.x(), upper ? -p.y() : p.y()}; }
}  // namespace correct

/// A set of steps that was computed with all draws: what it takes, and what it leaves.
struct PlanOption {
  std::vector<int> steps;  ///< candidates, in order; empty: nothing is done
  double hours = 0;
  Chance air;       ///< that a filling traps air
  double bad = 0;   ///< chance of a bad part
  double cost = 0;  ///< expected, of the run, in the currency: work, bad parts, material; 0: prices do not decide
};

/// What could be done, what is chosen, and what comes of it.
struct CorrectionPlan {
  Obstacle obstacle = Obstacle::none;
  Text obstacle_says;  ///< where there is one
  Effect now;
  std::vector<Correction> candidates;  ///< every candidate alone, ranked by benefit per effort
  std::vector<int> chosen;             ///< greedy combination, in order
  std::vector<Effect> after_each;      ///< after each chosen step, cumulative
  Effect after;                        ///< after all chosen
  std::vector<double> gap_after;   ///< per node, mm; from what fillings assume where nothing is measured (read: NaN)
  LaminateOptions laminate_after;  ///< with the patches and packing that were chosen
  CureLimits limits;
  std::vector<Uncured> not_cured;          ///< of `after`, as far as the work is done as ordered
  OutArea out_after;                       ///< out of tolerance when hands have done it; its mean is that of `after`
  Chance air_now, air_after, air_nominal;  ///< that a filling traps air
  double dry_nominal = 0;                  ///< sheet area in pockets in a true mold, mean over the draws, mm²
  Text remains;                            ///< what stays uncured
  Messages warnings;
  FlowOptions flow_after;                     ///< with the ports that were moved
  std::vector<double> nominal_arrival_after;  ///< per node, s; empty unless a port moves
  Messages left;                              ///< regions that no chosen correction works on, and why
  std::vector<Effort> effort;                 ///< the table that was used
  Prices prices;                              ///< that were used
  double cost_now = 0, cost_after = 0;        ///< of the run, where prices decide; hours of the chosen steps included
  Saving saving;                              ///< of all chosen steps against doing nothing
  /// Of the sets that were computed with all draws those that no other beats in hours and in bad parts at once, least
  /// hours first.
  std::vector<PlanOption> options;
  bool letter = false;                ///< templates on Letter paper instead of A4
  std::vector<Reference> references;  ///< named places that a tape can be held to
  double shop_step = 0;               ///< of the depths, mm
  /// Of the chosen set, computed anew, with its front; `after` is of that. All else above is computed with the
  /// breathing of the tool as it is: a correction changes the gap by far more than it changes how the half gives way.
  Breathing breathing_after;
};

/// What the shares of a loss are shares of.
struct LossScale {
  double sheet_area = 0;         ///< mm²
  double nominal_fill_time = 0;  ///< s
};

namespace correct {
/// How bad a state is, as the sum of shares: area out of tolerance (mean of provable and point value), dry area, area
/// over-packed and not filled, each of the sheet; RMS lead, of the nominal fill time (left out where that is 0; the
/// plan leaves it out where the greatest lead is within CureLimits::lead_s). Own choice: each counts the same, because
/// each alone spoils a part. The dry area is the expected one where fillings were drawn: a pocket that comes in every
/// third part counts a third, whether or not the one filling with the measured gap happens to have it.
double loss(const Effect&, const LossScale&);

/// Chance that a part is bad: that its filling traps air, or that something every part has spoils it,
/// 1 − (1 − air)(1 − d/(d + 5 %)) with d the sum of the other shares of a loss and of what resin misses by gelling and
/// the mold by opening. Own choice: half of the parts are bad where 5 % of the face is out of tolerance.
double chance_of_a_bad_part(const Effect&, const CureLimits&, const LossScale&);
/// What the run costs in this state: parts × (bad part × chance + glass and resin), in the prices' currency.
double cost_of_run(const Effect&, const Prices&, const CureLimits&, const LossScale&);
/// What that falls by, less `hours` of work. The interval is that of the chance of trapped air, by pairs of the same
/// draws; without draws it has no width.
Saving saving(const Effect& before, const Effect& after, double hours, const Prices&, const CureLimits&,
              const LossScale&);
}  // namespace correct

/// How far each face has moved since an earlier inspection of the tool: which of them wore.
struct FaceMoves {
  std::vector<double> lower, upper;  ///< out of the cavity, per node, mm; NaN: one of the dates did not measure it
  std::string since;                 ///< date of that inspection; empty: there is none
};

/// What plan_corrections() works on.
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
  const Mesh* nominal_lower = nullptr;  ///< nominal faces, tool frame, closed: they say which half is off
  const Mesh* nominal_upper = nullptr;
  /// Of the tool as it is and of a true one; the resin meets gap + breathing, the tolerance the gap. None: rigid.
  const Breathing* breathing = nullptr;
  const Breathing* nominal_breathing = nullptr;
  /// How fillings are drawn, and the probability of trapped air that came of it for the tool as it is. Where that is
  /// more than one in twenty, or prices decide and it is not nothing, every state is drawn as well, with the same
  /// random numbers, so that what two states differ by is not chance. None: the one filling of each state decides.
  const EnsembleOptions* ensemble = nullptr;
  double pocket = 0;
  const ProcessAdvice* advice = nullptr;  ///< for the tool as it is: its settings become candidates
  /// The scanned halves, tool frame: they show what of the flange stands in the way of a tape.
  const Surface* lower_scan = nullptr;
  const Surface* upper_scan = nullptr;
  const std::vector<DrawnFill>* drawn = nullptr;  ///< those fillings; null: they are drawn again
  const FaceMoves* moves = nullptr;               ///< they say which half to work on; null: nothing is known
};

namespace correct {
/// Finds what could be done, computes each alone and then the best in combination, until the mold is cured or nothing
/// more helps. Throws Error{Fault::input} as the stages do that it computes with; finding nothing is no error.
CorrectionPlan plan_corrections(const CorrectInput&, const CorrectOptions&, const Progress& = {});

/// Places for shims along the rim of the sheet, evenly spaced and outside it, named "P1", "P2"…
std::vector<Station> propose_stations(const Sheet&, const GapMap&, const CorrectOptions&);

/// Change of the gap per node when the shim stack at each station changes by `change` (mm): the rigid upper
/// half rests on the stations that carry (the supporting plane of the raised stations under the load point).
std::vector<double> shim_effect(const Sheet&, const GapMap&, const std::vector<Station>&,
                                const std::vector<double>& change);
}  // namespace correct

}  // namespace gapfront
