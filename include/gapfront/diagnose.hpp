// Diagnosis of a recurring dry spot: does the measured gap make it, which cause does, and what cures it cheapest.
#pragma once
#include <string>
#include <vector>
#include "gapfront/correct.hpp"
#include "gapfront/outcome.hpp"

namespace gapfront {

/// A dry spot as people see it on the parts.
struct DrySpot {
  Vec3 at = Vec3::Zero();
  double size = 40;         ///< across, mm
  int seen = 0, parts = 0;  ///< seen in so many of so many parts; 0 parts: not counted
};

/// How causes are sought.
struct DiagnoseOptions {
  int draws = 64;      ///< ensemble members for the states that a headline or a cure rests on; 0: none
  int screening = 12;  ///< for the other causes, which are only ranked by it
  /// A spot that comes in fewer of the parts is cured, and one that never came in more is none (1 in 20; own choice).
  double cured_below = 0.05;
  double viscosity_spread = 0.15;  ///< relative standard uncertainty of the viscosity (temperature, batch; from memory)
  Obstacle obstacle = Obstacle::none;  ///< what the report says stands in the way of a good part
};

/// What kind of cause.
enum class CauseKind {
  gap_region,
  radius,
  seat,
  overlap,
  vent,
  schedule,
  vacuum,
  viscosity,
  whole_gap,
  vent_closed,  ///< by hand, while air still had to leave there
  gel,          ///< the resin gels before it is there
};
const char* to_string(CauseKind);

/// One possible cause, and what is left of the trouble when it alone is removed.
struct Cause {
  CauseKind kind{};
  std::string name;    ///< "R1"
  Message what;        ///< what is removed
  double without = 0;  ///< trouble at the spot without it, one filling, share of the spot [0,1]
  Chance chance;       ///< of the spot without it, see diagnose(); 0 draws: not computed
  double relief = 0;   ///< share of the trouble, or of the chance where there is one, that goes with it; may be < 0
  bool is_gap = false;
};

/// A fault that is not in the job, put in to see whether it would make the spot.
struct Suspect {
  Message what, measure;  ///< the fault; what to measure to tell
  double trouble = 0;     ///< that it adds at the spot, [0,1]
  double dry = 0;         ///< share of the whole sheet that it leaves dry: a fault that makes far more than a spot
};

/// What a cure is judged by.
enum class CureBy {
  none,
  plan,  ///< the corrections that the report has chosen, all of them
  one,   ///< one candidate, on top of those
};
/// The causes of one dry spot, ranked.
struct SpotDiagnosis {
  DrySpot spot;
  double trouble = 0, nominal_trouble = 0;  ///< of one filling each, measured and nominal gap, [0,1]
  Chance model;                             ///< of the spot with the measured gap, as the model draws it
  Chance now, nominal;  ///< weighted by what was counted on parts, with the measured and the nominal gap
  bool predicted = false, gap_explains = false;
  bool layout = false;            ///< the nominal mold has it as well: inlets and vents are at fault
  bool seen_fits = true;          ///< what was counted on parts agrees with the model's probability
  std::vector<Cause> causes;      ///< the greatest relief first
  std::vector<Suspect> suspects;  ///< where the model as given does not account for the spot
  Text headline, discriminate;
  bool plan_works = false;  ///< the report has chosen corrections; what they make of the spot:
  double plan_trouble = 0, plan_fill_time = 0;
  Chance plan_chance;
  CureBy cure_by = CureBy::none;
  int cure = -1;  ///< of `one`: index into the plan's candidates
  double cure_trouble = 0, cure_fill_time = 0;
  Chance cure_chance;
  Text cure_text;
  Messages cure_steps;  ///< instructions
};
/// What makes the dry spots, as far as the model can tell.
struct Diagnosis {
  std::vector<SpotDiagnosis> spots;
  int fillings = 0;        ///< simulated
  int unsettled = 0;       ///< of these, that did not converge (flow::settled)
  double cured_below = 0;  ///< of the options
};

namespace diagnosis {
/// Whether resin comes to a node only after it has gelled: what comes then stays dry. Of `gel_time`; with an ageing
/// that gels the front itself stops.
bool comes_gelled(const Filling&, const FlowOptions&, std::size_t node);
/// Sheet area that stays dry because the resin gels before all is full, mm²; 0: it does not, or its gel time is not
/// known. What creeps into shut-in air after the end of the fill does not count.
double gelled_area(const Sheet&, const Filling&, const FlowOptions&);

/// Area that a filling leaves dry, fills after the resin has gelled, or fills over shut-in air, over the spot's own
/// area, 1 at most. Counted are nodes within the spot's size of its middle: half of that is the spot, and the air
/// drifts by as much again. Air that the resin presses to less than a quarter of its pocket counts in proportion.
double trouble_at(const Sheet&, const Filling&, const FlowOptions&, const DrySpot&);

/// Where there are draws the chance of the spot decides on headline, ranking and cure; without, one filling each.
///
/// The ensemble draws gap and permeability as draw_fillings() does, and beside that what a batch of glass and of resin
/// has in common, which from part to part does make a difference. Where the spot was counted on parts, the draws of the
/// ensemble are weighted so that they show it in that share of the parts, before a cause's or cure's probability is
/// taken from them: a draw in which the spot that everybody sees does not come about says little about what would take
/// it away.
///
/// The cure is what the report's plan has chosen wherever that is one: two instructions for one tool are none. Only
/// where it is not, another candidate is tried on top of it.
Diagnosis diagnose(const CorrectInput&, const CorrectionPlan&, const std::vector<DrySpot>&, const DiagnoseOptions&,
                   const Progress& = {});
}  // namespace diagnosis

}  // namespace gapfront
