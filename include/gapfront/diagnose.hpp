// Diagnosis of a recurring dry spot: does the measured gap make it, which cause does, and what cures it cheapest.
#pragma once
#include <string>
#include <vector>
#include "gapfront/correct.hpp"

namespace gapfront {

/// A dry spot as people see it on the parts.
struct DrySpot {
  Vec3 at = Vec3::Zero();
  double size = 40;         ///< across, mm
  int seen = 0, parts = 0;  ///< seen in so many of so many parts; 0 parts: not counted
};

struct DiagnoseOptions {
  int draws = 8;                   ///< ensemble members per state; 0: none
  double viscosity_spread = 0.15;  ///< relative standard uncertainty of the viscosity (temperature, batch; from memory)
  UnitSystem units = UnitSystem::mm;  ///< of the sentences
};

enum class CauseKind { gap_region, radius, seat, overlap, vent, schedule, vacuum, viscosity, whole_gap };
const char* to_string(CauseKind);

/// One possible cause, and what is left of the trouble when it alone is removed.
struct Cause {
  CauseKind kind{};
  std::string name, what;   ///< "R1"; in words, what is removed
  double without = 0;       ///< trouble at the spot without it, share of the spot [0,1]
  double relief = 0;        ///< share of the trouble that goes with it [0,1]; may be negative
  double probability = -1;  ///< of the spot without it, from the ensemble, see diagnose(); −1: not computed
  bool is_gap = false;
};

/// A fault that is not in the job, put in to see whether it would make the spot.
struct Suspect {
  std::string what, measure;  ///< the fault; what to measure to tell
  double trouble = 0;
};

struct SpotDiagnosis {
  DrySpot spot;
  double trouble = 0, nominal_trouble = 0;  ///< with the measured and with the nominal gap, [0,1]
  double probability = -1;                  ///< of the spot with the measured gap; −1: not computed
  bool predicted = false, gap_explains = false;
  bool seen_fits = true;          ///< what was counted on parts agrees with the probability
  std::vector<Cause> causes;      ///< the greatest relief first
  std::vector<Suspect> suspects;  ///< when the model as given does not predict the spot
  std::string headline, discriminate;
  int cure = -1;  ///< index into the plan's candidates; −1: none of them cures it
  double cure_trouble = 0, cure_fill_time = 0, cure_probability = -1;
  std::string cure_text;
};
struct Diagnosis {
  std::vector<SpotDiagnosis> spots;
  int fillings = 0;  ///< simulated
};

/// Share of the spot [0,1] that a filling leaves dry, fills after the resin has gelled, or fills over shut-in air:
/// nodes within half the size, with the air's drift allowed for by as much again. Air that the resin presses to less
/// than a quarter of its pocket counts in proportion.
double trouble_at(const Sheet&, const Filling&, const FlowOptions&, const DrySpot&);

/// The ensemble draws gap and permeability as draw_fillings() does, and beside that what a batch of glass and of resin
/// has in common, which from part to part does make a difference. Where the spot was counted on parts, the draws of the
/// ensemble are weighted so that they show it in that share of the parts, before a cause's or cure's probability is
/// taken from them: a draw in which the spot that everybody sees does not come about says little about what would take
/// it away.
Diagnosis diagnose(const CorrectInput&, const CorrectionPlan&, const std::vector<DrySpot>&, const DiagnoseOptions&,
                   const Progress& = {});

}  // namespace gapfront
