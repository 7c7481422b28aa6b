// Numbers in the verdict's sentences.
#pragma once
#include "units/words.hpp"

namespace gapfront {

inline std::string percent(double share) { return spoken(100 * share, share > 0 && share < 0.0095 ? 2 : 1) + " %"; }

}  // namespace gapfront
