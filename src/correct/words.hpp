// Numbers in sentences.
#pragma once
#include "gapfront/geometry.hpp"
#include "units/words.hpp"

namespace gapfront {

inline std::string words(double v, int digits) { return spoken(v, digits); }
inline std::string spot(const Vec3& p) {
  return "x " + words(p.x(), 0) + ", y " + words(p.y(), 0) + ", z " + words(p.z(), 0);
}

}  // namespace gapfront
