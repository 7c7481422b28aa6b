// Sentences with numbers in them.
#pragma once
#include <cmath>
#include <cstdio>
#include <string>

namespace gapfront {

/// A decimal number for reading: with a true minus sign, no sign before a zero, and a plus where `sign` asks for it.
inline std::string spoken(double v, int decimals = 1, bool sign = false) {
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", decimals, std::abs(v));
  const bool zero = std::string(text).find_first_not_of("0.") == std::string::npos;
  return (zero ? "" : v < 0 ? "−" : sign ? "+" : "") + std::string(text);
}

template <class... T>
std::string words(const char* format, T... values) {
  std::string text(std::snprintf(nullptr, 0, format, values...), '\0');
  std::snprintf(text.data(), text.size() + 1, format, values...);
  return text;
}

}  // namespace gapfront
