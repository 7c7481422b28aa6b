// Numbers in the verdict's sentences.
#pragma once
#include "units/words.hpp"

namespace gapfront {

inline std::string percent(double share) { return spoken(100 * share, share > 0 && share < 0.0095 ? 2 : 1) + " %"; }

inline std::string area_text(double mm2) {
  const double cm2 = mm2 / 100;
  return spoken(cm2, cm2 < 10 ? 1 : 0) + " cm²";
}

}  // namespace gapfront
