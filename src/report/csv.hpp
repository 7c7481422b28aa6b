// Cells of a CSV file (RFC 4180).
#pragma once
#include <cmath>
#include <cstdio>
#include <string>

namespace gapfront::report {

// Names come from the job file: a leading = + - @ would be taken for a formula by spreadsheets, so it is disarmed.
inline std::string text_cell(std::string s) {
  if (!s.empty() && std::string("=+-@\t\r").find(s[0]) != std::string::npos) s = "'" + s;
  std::string out = "\"";
  for (char c : s) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + "\"";
}

/// Empty for what is no number.
inline std::string number_cell(double v, int decimals) {
  if (!std::isfinite(v)) return "";
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", decimals, v);
  return text;
}

}  // namespace gapfront::report
