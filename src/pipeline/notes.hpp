// What an inspection warns of beside its numbers.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// Adds the messages that are not there yet.
void append(Messages& to, const Messages& from);

/// A negative gap is no gap: said with its place, wherever it is more than its own uncertainty.
Messages crossing_warning(const Measured&);
/// The shift that the spot readings have in common, once it is significant.
Message shift_warning(const SpotShift&);
/// What the gap does to the glass and the clamping, said once and early: the maps alone are easily overlooked.
Messages reinforcement_warnings(const Predicted&);

}  // namespace gapfront::pipeline
