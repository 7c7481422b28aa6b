// Which ways to the closed position a job takes.
#pragma once
#include "gapfront/align.hpp"

namespace gapfront::align {

bool uses(const AlignOptions&, AlignMethod);

}  // namespace gapfront::align
