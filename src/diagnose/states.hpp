// The states of tool, glass and process that a diagnosis fills again.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "gapfront/diagnose.hpp"

namespace gapfront::diagnosis {

struct State {
  std::vector<double> gap;
  LaminateOptions laminate;
  FlowOptions flow;
};
/// As measured; where nothing was measured, nominal. The gap is that under filling: every state keeps the breathing of
/// the tool as it is.
State measured_state(const CorrectInput&);

struct Try {
  Cause cause;
  State state;
};
/// Everything that can be put right, one at a time.
std::vector<Try> candidates(const CorrectInput&, const State& now, const DrySpot&, UnitSystem);
/// Shut or leaking vents, glass that nobody wrote down: put in where the model as given shows nothing.
std::vector<std::pair<Suspect, State>> suspects(const CorrectInput&, const State& now, const DrySpot&);

/// Draws shared by all states, so that what differs between them is the cause alone.
struct Draw {
  double permeability, viscosity;
  Vector6 motion;
};
std::vector<Draw> draws(const CorrectInput&, const DiagnoseOptions&);
State drawn(const CorrectInput&, State, const Draw&);

int nearest_node(const Sheet&, const Vec3&);
/// A place on the sheet, for people.
std::string spot_words(const Vec3&, UnitSystem);

}  // namespace gapfront::diagnosis
