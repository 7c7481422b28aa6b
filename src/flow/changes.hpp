// What would have to change in the process.
#pragma once
#include "gapfront/flow.hpp"

namespace gapfront::flow {

/// Each tried by a fill: only what fills before the resin gels, keeps the mold shut with the safety wanted and shuts in
/// no more air.
std::vector<ProcessChange> changes_to_be_in_time(const Sheet&, const LaminateMap&, const FlowOptions&,
                                                 const ProcessAdvice&);

}  // namespace gapfront::flow
