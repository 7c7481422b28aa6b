// Numbers in the verdict's sentences.
#pragma once
#include <cstdio>
#include <string>

namespace gapfront {

inline std::string number(double v, int digits, bool sign = false) {
  char text[40];
  std::snprintf(text, sizeof text, sign ? "%+.*f" : "%.*f", digits, v);
  std::string out = text;
  if (!out.empty() && out[0] == '-') out.replace(0, 1, "−");
  return out;
}

inline std::string percent(double share) { return number(100 * share, share > 0 && share < 0.0095 ? 2 : 1) + " %"; }

inline std::string area_text(double mm2) {
  const double cm2 = mm2 / 100;
  return number(cm2, cm2 < 10 ? 1 : 0) + " cm²";
}

}  // namespace gapfront
