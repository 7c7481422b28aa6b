// Darcy flow of resin in the sheet with a moving front.
#pragma once
#include <array>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/closing.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/supply.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// Section of a perimeter runner at a place of the rim.
struct RunnerSection {
  Vec3 at = Vec3::Zero();
  double width = 0, depth = 0;  ///< mm
};
/// Where resin enters. The whole rim (perimeter runner), or the nodes within `radius` of a path. A perimeter runner
/// whose section is given resists along its length, holds resin, and is fed at the path.
struct Inlet {
  std::string name;
  bool perimeter = false;
  std::vector<Vec3> path;
  double radius = 5;
  double runner_width = 0, runner_depth = 0;  ///< mm; 0: as wide as it takes
  /// Sections at places along the rim, in place of one; between two of them width and depth change evenly.
  std::vector<RunnerSection> sections{};
  /// Whether it is a runner that resists.
  bool has_section() const { return runner_width > 0 || !sections.empty(); }
};
/// Where air leaves: a mouth within `radius` of the path. It closes for air when resin covers it, and passes resin for
/// `bleed` seconds more.
struct Vent {
  std::string name;
  std::vector<Vec3> path;
  double radius = 5;
  double bleed = 0;
  /// From this time on it passes nothing, s: closed by hand, or blocked as a diagnosis tries it. With no vent open the
  /// air is compressed.
  double blocked_from = std::numeric_limits<double>::infinity();
};
/// One step of a pump's schedule.
struct RateStep {
  double from = 0;  ///< injected volume from which on it holds, mm³
  double rate = 0;  ///< mm³/s
};

/// Resin, ports and pump.
struct FlowOptions {
  double viscosity = 0.2;  ///< Pa s
  std::vector<Inlet> inlets;
  std::vector<Vent> vents;
  std::vector<RateStep> schedule;    ///< empty: constant pressure at the limit
  double pressure_limit = 120000;    ///< at the gauge (the inlet, if `supply` says no other), above atmosphere, Pa
  double cavity_pressure = 50662.5;  ///< absolute, at the open vents, Pa
  ClosingOptions closing;            ///< what holds the halves together besides the vacuum
  double gel_time = 0;               ///< s; 0: unknown
  double min_rate = 0;               ///< the pump delivers no slower than this, mm³/s; 0: unknown
  /// Advised rates are whole multiples of this, mm³/s (0.1 L/min: what a pump is set to; own choice). 0: any rate.
  double rate_setting = 1e5 / 60;
  /// A pocket has come to rest when the resin around it presses no more than this share harder than its gas.
  double pocket_rest = 2e-3;
  /// The filling also ends when only pockets are left and take no more than this share of the cavity: what they shrink
  /// to under the pump's limit follows from Boyle's law. Its time then goes on at the last rate, which is too short by
  /// as much as the rate falls, and its last state is balanced to a thousandth of that share. 0: computed to the end.
  double rest_fraction = 0;
  /// Resin that may be unaccounted for, as a share of what a step brings. It does not add up from step to step.
  double loose_fraction = 0.02;
  double cells_per_step = 1.2;  ///< rows of cells that the front takes per step; more is faster and coarser
  Supply supply;                ///< hose, pump and gauge
  Gravity gravity;
  ResinAge ageing;  ///< with its `gel` the front stops there; `gel_time` alone: what is empty then counts as dry
  /// Relative standard uncertainty of the viscosity, by temperature too; 0: not looked at.
  double viscosity_spread = 0;
  WetOut wet_out;
  /// Surface tension of the resin, N/mm, and its contact angle on the glass, rad; 0: voids are not looked at.
  double surface_tension = 0, contact_angle = 0;
};

/// Air the front has closed around with no open vent.
struct Pocket {
  Vec3 centre = Vec3::Zero();
  double closed_at = 0;       ///< s
  double initial_volume = 0;  ///< gas volume when it was closed, mm³
  double final_volume = 0;    ///< gas volume at the end, mm³ (isothermal, Boyle)
  double final_pressure = 0;  ///< absolute, Pa
  double area = 0;            ///< sheet area left dry, mm²
  /// What the mesh does to that, expanded, mm²; the same area on a sheet of half the edge, 0: not found there. NaN: not
  /// computed (see judge_pockets).
  double area_U = std::numeric_limits<double>::quiet_NaN(), area_fine = area_U;
  std::vector<int> nodes;  ///< nodes inside when it closed
};
/// One time of a filling.
struct FlowSample {
  double time = 0, inlet_pressure = 0;     ///< s; Pa above atmosphere
  double rate = 0, filled = 0;             ///< mm³/s; share of the cavity, [0,1]
  double gauge_pressure = inlet_pressure;  ///< what the pressure limit holds for, Pa above atmosphere
};

/// How a sheet fills.
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
  /// Share of the resin that came in steps whose pressures were not in balance when the solver reached its limit.
  double unsettled = 0;
  bool stopped = false;  ///< at the most steps, with more to fill or air that was still pressed
  SupplyCourse supply;   ///< of what `supply`, `gravity` and `ageing` ask for
  /// Where the stack gets wet through its thickness: when, s (+infinity: never), and how much of its thickness is dry
  /// at the end, [0,1]. Empty where `wet_out` is off.
  std::vector<double> wet_through, dry_below;
  Messages warnings;
};

namespace flow {
/// What the column of resin between pump and inlet presses with, Pa.
double pump_head(const FlowOptions&);
/// Fills the sheet until every node is reached or what is left is shut-in air. The laminate is that of this sheet.
/// Throws Error{Fault::input} as check_options() does, and for a port that touches no node.
Filling fill(const Sheet&, const LaminateMap&, const FlowOptions&, const Progress& = {});
/// Fills twice more, with resin as thin and as thick as nineteen in twenty batches are by `viscosity_spread`, and
/// writes the course's `thin_time` and what follows. Nothing where no spread is given.
void try_viscosities(const Sheet&, const LaminateMap&, const FlowOptions&, Filling&);
/// When the front passes a node, s. What creeps into shut-in air after the end of the fill has come by its end, as far
/// as anybody waits for it; +infinity: never.
double passing_time(const Filling&, std::size_t node);
/// Modified capillary number Ca* = µ v/(γ cos θ) of the front as it passes each node, v its speed by the arrivals
/// around; NaN where it does not come. Empty without a surface tension.
std::vector<double> capillary_numbers(const Sheet&, const Filling&, const FlowOptions&);
/// What the pockets of a filling leave dry, mm².
double dry_area(const Filling&);
/// Its pressures came to balance, and it went on to its end.
bool settled(const Filling&);
/// Whether it is full, but for shut-in air, before its resin gels, or when that gels is not known: what creeps into
/// shut-in air is a matter of inlets and vents. Ageing resin stops the front as it gels; of other resin the front runs
/// on, and the arrivals tell.
bool in_time(const Filling&, const FlowOptions&);
/// When the front stops as its resin gels, with more of the cavity to fill than shut-in air, s; +infinity: it does not.
double stops_at(const Filling&, const FlowOptions&);
}  // namespace flow

/// Time s, and what held since the call before: inlet pressure, and the fluid's pressure at every node (resin, or air
/// where it is dry), absolute, Pa.
using PressureWatch = std::function<void(double time, double inlet, const std::vector<double>& pressure)>;

namespace flow {
/// fill() without its `opening`, for somebody who wants to see the pressure at every step.
Filling fill_watched(const Sheet&, const LaminateMap&, const FlowOptions&, const PressureWatch&, const Progress& = {});
}  // namespace flow

/// A sheet with some edges halved, and where each of its nodes comes from: the two ends, the same for an old node.
struct FinerSheet {
  Sheet sheet;
  std::vector<std::array<int, 2>> from;
  std::vector<double> carried(const std::vector<double>& coarse) const;  ///< linear along the edges
};

namespace flow {
/// Halves the edges of every triangle with a node marked `here` (none given: of all); old nodes keep their numbers.
FinerSheet finer_sheet(const Sheet&, const std::vector<char>& here = {});
/// Small pockets decide much and hang on the mesh: where there are any, the filling is run once more on half the edge
/// and every pocket's `area_U` follows from the difference. Areas stay those of the sheet, so that states compare.
/// `filling` must be fill() of that gap.
void judge_pockets(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&, Filling&);
}  // namespace flow

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
  double probability = std::numeric_limits<double>::quiet_NaN();  ///< that it leads, of the ensemble; NaN: not drawn
};
/// How far a front is ahead of the nominal one.
struct Lead {
  std::vector<double> seconds;  ///< nominal arrival − measured arrival per node; positive: early
  std::vector<double> mm;       ///< seconds × local speed of the nominal front
  std::vector<double> percent;  ///< of the nominal fill time
  double max_s = 0, rms_s = 0;
  int max_node = -1;
  double fill_time = 0;             ///< of the front that is compared, s
  std::vector<LeadRegion> regions;  ///< ranked, greatest first
};

namespace flow {
/// Below this a lead is within what scatter of the glass does to a front (3 % of the fill time), s.
double lead_threshold(const Filling& nominal);
/// Where and by how much the measured front is ahead of the nominal one. Throws Error{Fault::input} for fillings of
/// another sheet.
Lead compare_fillings(const Sheet&, const Filling& nominal, const Filling& measured);
}  // namespace flow

/// A named part of the sheet that may feed a lead: a region of the gap that deviates.
struct Feed {
  std::string name;
  std::vector<int> nodes;
};

namespace flow {
/// Each lead region is `fed_by` the part in which, or at whose edge, the front gains most of it on its way to the peak.
void name_feeds(const Sheet&, const std::vector<Feed>&, Lead&);
}  // namespace flow

/// A part of the sheet where the glass is squeezed harder than the clamping there.
struct PackedRegion {
  Vec3 centre = Vec3::Zero();
  double area = 0;      ///< mm²
  double load = 0;      ///< of the glass, along the opening axis, Pa·mm²
  double fraction = 0;  ///< of the load of the whole sheet
};
/// Can the mold be closed on its glass, before any resin?
struct Closing {
  double closing = 0;                 ///< vacuum and mechanical, Pa·mm²
  double reinforcement = 0;           ///< ∫ compaction dA along the opening axis, Pa·mm²
  double area = 0;                    ///< of the sheet, projected on the opening axis, mm²
  double stands_open = 0;             ///< if it cannot close: how far a rigid half stays off everywhere, mm
  std::vector<PackedRegion> regions;  ///< largest load first
  bool closes() const { return reinforcement <= closing; }  ///< what closes is enough for the glass
};

namespace flow {
/// What closes the dry mold, spread over the moulding face, Pa.
double clamping_over_face(const Sheet&, const FlowOptions&);
/// The balance of what closes the dry mold and its glass, with one gap per node, mm.
Closing close_mold(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&);
}  // namespace flow

/// What a schedule comes to when the fill is run with it.
struct ScheduleResult {
  double fill_time = 0, peak_pressure = 0;  ///< s; Pa above atmosphere at the inlet
  double min_margin = 0;                    ///< closing − opening, Pa·mm²
  double min_safety = 0;                    ///< closing / opening
  double min_local = 0;                     ///< local margin, Pa
  double dry_area = 0;                      ///< mm²
  double limit_from = 1;  ///< share of the resin after which the pump stands at its pressure limit; 1: never
  bool rate_set = false;  ///< a rate is set, not only the pressure
  bool gelled = false;    ///< the front stopped as the resin gelled, before all was full
};
/// One thing that could be changed, and how much of it would do; found by a fill or by the balance of forces.
struct ProcessChange {
  /// What is changed.
  enum class Kind {
    lower_limit,     ///< amount: of the pressure limit, above atmosphere, Pa
    slower,          ///< amount: pump rate, mm³/s
    stop_when_full,  ///< amount: share of the cavity that is full when it begins to open
    cavity_vacuum,   ///< amount: below atmosphere, Pa; second: limit from the start in place of what is advised, Pa, or
                     ///< 0
    clamping,        ///< amount: force beyond what there is, Pa·mm²
    perimeter,       ///< amount: below atmosphere, Pa; second: width of the channel, mm
    thinner_resin,   ///< amount: viscosity, Pa s; second: times the advised rates, up to; 0: none is set
    second_inlet,    ///< at
    higher_limit,    ///< amount: limit, above atmosphere, Pa; second: clamping force beyond what there is, Pa·mm²
    limit_alone,     ///< the limit of the options from the start, no rate set; amount and second as of a higher one
  };
  Kind kind{};
  double amount = 0, second = 0;
  Vec3 at = Vec3::Zero();
  double fill_time = 0;  ///< s, with it; 0: it leaves the fill as it is
};
const char* to_string(ProcessChange::Kind);
/// What would hold a mold shut that opens.
struct OpeningHelp {
  /// What opens the mold.
  enum class Reason {
    stays_closed,
    reinforcement_alone,  ///< before any resin the glass outweighs what closes: no injection setting helps
    vacuum_gone,          ///< where resin has come the vacuum closes no more, and the glass outweighs the rest
    resin,                ///< the resin's pressure does it
  };
  Reason reason = Reason::stays_closed;
  double wanted = 1;  ///< closing / opening, of the options
  double factor = 1;  ///< what each of the changes reaches of it: the safety wanted, or 1 where none reaches that
  std::vector<ProcessChange> changes;  ///< settings first, then what has to be built
};
const char* to_string(OpeningHelp::Reason);

namespace flow {
/// What would hold the mold shut; each change is tried by a fill or by the balance of forces.
OpeningHelp opening_help(const Sheet&, const LaminateMap&, const FlowOptions&, const Filling& own);
}  // namespace flow

/// How the pump is set.
enum class PumpMode {
  none,      ///< no rate keeps the mold shut
  rates,     ///< steps, and at the end the pressure
  pressure,  ///< one pressure from the start: a rate would stand at the limit almost at once, or be below the pump's
};
const char* to_string(PumpMode);
/// A way to inject that stays under the limits all the way: steps fast first, in what a pump can be set to, or one
/// pressure. Where a step's rate would take more, and at the end, where the front closes on the vent and any rate
/// would, the pump holds `pressure_limit`.
struct ProcessAdvice {
  PumpMode mode = PumpMode::none;
  std::vector<RateStep> steps;               ///< of `rates`
  double pressure_limit = 0;                 ///< what the pump is set to hold at the most, above atmosphere, Pa
  ScheduleResult own, advised;               ///< both from fills that were run
  bool bound_by_opening = false;             ///< the opening margin, not the inlet's limit, sets at least one step
  bool keeps_limits = true;                  ///< false: it comes closer to a limit than the safety wanted
  double gel_time = 0;                       ///< of the options or of their ageing, s; 0: not known
  bool in_time = true;                       ///< it fills before the resin gels, or the gel time is not known
  std::vector<ProcessChange> to_be_in_time;  ///< where it does not
  OpeningHelp help;                          ///< of the options as they are
};

namespace flow {
/// The inlet stays below `safety` × pressure limit, and closing above `closing.safety` × opening, from the first resin
/// to the last. `own` is the fill with the options as they are. The advice is run, and slowed until it holds; of those
/// that hold one that fills before the resin gels is taken, or the fastest.
ProcessAdvice advise_process(const Sheet&, const LaminateMap&, const FlowOptions&, const Filling& own,
                             double safety = 0.9);
}  // namespace flow

}  // namespace gapfront
