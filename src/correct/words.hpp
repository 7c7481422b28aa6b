// Numbers in sentences.
#pragma once
#include "gapfront/geometry.hpp"
#include "units/words.hpp"

namespace gapfront {

inline std::string words(double v, int digits) { return spoken(v, digits); }
/// A length with its unit.
inline std::string length(double mm, int digits, UnitSystem u) {
  return spoken_length(mm, digits, u) + " " + length_unit(u);
}

}  // namespace gapfront
