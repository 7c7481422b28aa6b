// What every filling of a measured mold begins with.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// The flow needs a gap everywhere; where none was measured the nominal stands in, and the report says so.
std::vector<double> gap_for_flow(const GapMap&, const std::vector<double>& nominal);
/// Ports on the sheet, and the clamping: where neither vacuum nor press bears on the face, what the flange's clamps and
/// channel bring stands in, spread over it (the job was refused if there is none of these).
void settle_process(Measured&);

}  // namespace gapfront::pipeline
