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

/// A depth as hands work it: the nearest whole number of shop steps.
inline double in_steps(double mm, double step) { return step > 0 ? std::round(mm / step) * step : mm; }

/// A depth for the shop: hundredths of a millimetre, or thou.
inline std::string depth_words(double mm, UnitSystem u) {
  return u == UnitSystem::mm ? spoken(mm, 2) + " mm" : spoken(mm / 0.0254, 0) + " thou";
}

}  // namespace gapfront
