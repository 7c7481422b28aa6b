// Both halves in the wrong unit look alike; only what the job says in its own units can tell.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// Refuses scans whose size suits another unit of length than the one they were read in: against the targets' places,
/// the seal line, the nominal thickness and the balls. Throws Error{Fault::input} naming the likely unit.
void refuse_wrong_unit(const Job&, const Scan& lower, double spacing);
/// The same by the gap measured: all of it 25.4 times too thin is inches read as millimetres.
void refuse_wrong_unit(const Job&, const Sheet&, const GapMap&);

}  // namespace gapfront::pipeline
