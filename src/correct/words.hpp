// Numbers in sentences.
#pragma once
#include <cstdio>
#include <string>

#include "gapfront/geometry.hpp"

namespace gapfront {

inline std::string words(double v, int digits) {
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", digits, v);
  std::string out = text;
  if (out[0] == '-') out.replace(0, 1, out.find_first_of("123456789") == std::string::npos ? "" : "−");  // no "−0"
  return out;
}
inline std::string spot(const Vec3& p) {
  return "x " + words(p.x(), 0) + ", y " + words(p.y(), 0) + ", z " + words(p.z(), 0);
}

}  // namespace gapfront
