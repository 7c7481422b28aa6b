// Numbers in the verdict's sentences.
#pragma once
#include "units/words.hpp"

namespace gapfront {

inline std::string percent(double fraction) {
  return spoken(100 * fraction, fraction > 0 && fraction < 0.0095 ? 2 : 1) + " %";
}

/// An area in a sentence: as exact as three figures make it.
inline std::string area_text(double mm2, UnitSystem u) { return spoken_area(mm2, mm2 < 1000 ? 1 : 0, u); }

}  // namespace gapfront
