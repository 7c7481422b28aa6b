// What every filling of a measured mold begins with.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// The flow needs a gap everywhere: where none was measured cavity::assume_gap() puts one, the report says so, and the
/// map gets how far off it may be.
std::vector<double> gap_for_flow(Measured&);
/// Ports on the sheet, and the clamping: where neither vacuum nor press bears on the face, what the flange's clamps and
/// channel bring stands in, spread over it (the job was refused if there is none of these).
void settle_process(Measured&);

}  // namespace gapfront::pipeline
