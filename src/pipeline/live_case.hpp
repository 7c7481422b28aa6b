// What the page's own trials start from.
#pragma once
#include "gapfront/inspection.hpp"
#include "gapfront/live.hpp"

namespace gapfront::pipeline {

/// The mold as it was filled, with the corrections proposed for it.
LiveCase live_case(const Inspection&);

}  // namespace gapfront::pipeline
