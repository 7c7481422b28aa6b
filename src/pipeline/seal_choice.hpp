// Which seal line an inspection takes, and what its headline owes to the reader.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// Takes the job's line, or proposes one from the closed halves where the job has none and the sheet is not given; sets
/// `seal`, and the line in `job.sheet`.
void choose_seal(Measured&, const Surface& lower, const Surface& upper, bool sheet_given);

/// Says in the headline that the verdict is provisional, and that the whole face was judged, where it is so.
void qualify_headline(Measured&);

}  // namespace gapfront::pipeline
