// The states of tool, glass and process that a diagnosis fills again.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "gapfront/diagnose.hpp"
#include "gapfront/draws.hpp"

namespace gapfront::diagnosis {

struct State {
  std::vector<double> gap;
  LaminateOptions laminate;
  FlowOptions flow;
  std::vector<double> reinforcement = {};  ///< factor on the permeability, per node; empty: as the job has it
};
/// As measured; where nothing was measured, the assumed one. The gap is that under filling: every state keeps the
/// breathing of the tool as it is.
State measured_state(const CorrectInput&);
State nominal_state(const CorrectInput&);
/// With the chosen corrections of the plan: what the report calls "after".
State planned_state(const CorrectInput&, const CorrectionPlan&);
/// With one more correction.
State with_correction(State, const Correction&);

/// When the resin gels, s of the fill; +infinity: not known.
double gels_at(const FlowOptions&);

struct Try {
  Cause cause;
  State state;
};
/// Everything that can be put right, one at a time.
std::vector<Try> candidates(const CorrectInput&, const State& now, const DrySpot&);
/// Shut or leaking vents, glass that nobody wrote down: put in where the model as given shows nothing.
std::vector<std::pair<Suspect, State>> suspects(const CorrectInput&, const State& now, const DrySpot&);

/// What differs from part to part: a draw of gap and glass as the report's fillings have it, and what a batch of glass
/// and of resin has in common (factors on permeability and viscosity).
struct Part {
  Draw draw;
  double reinforcement, viscosity;
};
/// Shared by all states, so that what differs between them is the cause alone.
std::vector<Part> parts(const CorrectInput&, const DiagnoseOptions&);
State made_as(State, const Part&);

}  // namespace gapfront::diagnosis
