// What an inspection comes to, from what its stages found.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// The states of the tool in the numbers of Outcome. Chances that are already in `r.outcome` (draws > 0) are kept; the
/// others come from the drawn fillings that there are, and stay without draws where there are none.
Outcome summarise(const Inspection& r);

}  // namespace gapfront::pipeline
