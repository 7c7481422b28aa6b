// What an inspection warns of beside its numbers.
#pragma once
#include <optional>

#include "gapfront/inspection.hpp"
#include "pipeline/reach.hpp"

namespace gapfront::pipeline {

/// Adds the messages that are not there yet.
void append(Messages& to, const Messages& from);

/// A negative gap is no gap: said with its place, wherever it is more than its own uncertainty.
Messages crossing_warning(const Measured&);
/// Where a half bends more sharply than its scan resolves: the places and what U is there.
Messages narrow_warnings(const Measured&);
/// The shift that the spot readings have in common, once it is significant.
/// `ample`: the readings reach over the face, so that to take the shift out may be advised.
Message shift_warning(const SpotShift&, bool ample);
/// What of the face the readings do not test, where it is much; `id` of the text.
void say_reach(Measured&, const ReadingsReach&, const char* id);
/// What the gap does to the glass and the clamping, said once and early: the maps alone are easily overlooked.
Messages reinforcement_warnings(const Predicted&);
/// What the job likely forgot: stacks at the stations of a half that sits off, and halves whose files are named the
/// other way round.
Messages job_notes(const Measured&);
/// How far draped cloth is sheared, where beyond its limit, and what the net does not come to.
Messages draping_notes(const Predicted&);
/// Bends of the sheet that no radius of the job names; nothing where there is none.
Messages radii_notes(const Predicted&);
/// Where the front is so slow, or so fast, that voids are to be expected; nothing where it was not asked for.
Messages void_notes(const Predicted&);
/// What of the sheet keeps bubbles or stays dry; nothing where it was not asked for.
Messages air_notes(const Predicted&);
/// Values that a slip of the pen makes: a vent as wide as a good part of the face, a resin too thick to be injected, a
/// channel that holds less vacuum than what it goes around.
Messages unlikely_values(const Predicted&);
/// How far a light half gives way, where that is beyond what its model was tested for.
Messages half_notes(const Predicted&);
/// Refuses glass that lets more resin through than the empty gap would.
void check_permeability(const Predicted&, const std::vector<double>& nominal);
/// What would hold a mold shut: clauses. `schedule`: said in place of that no setting helps; empty: neither is said.
Messages help_words(const OpeningHelp&, double gel_time, const std::optional<Message>& schedule = {});
/// What is said of opening before any work, once work is chosen that changes what would help.
void tell_opening_after(Inspection&);
/// Of solvers of the flow that reached their limit before their end; `outcome_says` repeats them beside the verdict.
Messages unsettled_warnings(const Predicted&);
Messages unsettled_warnings(const Filling&);

}  // namespace gapfront::pipeline
