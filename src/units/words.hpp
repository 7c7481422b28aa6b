// Numbers, lengths, areas and places as people read them, with the signs and units of their system.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>

#include "gapfront/geometry.hpp"
#include "gapfront/units.hpp"
#include "units/inch.hpp"

namespace gapfront {

/// What stands where there is no number.
inline constexpr const char* kNoNumberWord = "–";

/// A decimal number for reading: with a true minus sign, no sign before a zero, and a plus where `sign` asks for it.
inline std::string spoken(double v, int decimals = 1, bool sign = false) {
  if (!std::isfinite(v)) return kNoNumberWord;
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", decimals, std::abs(v));
  const bool zero = std::string(text).find_first_not_of("0.") == std::string::npos;
  return (zero ? "" : v < 0 ? "−" : sign ? "+" : "") + std::string(text);
}

inline const char* length_unit(UnitSystem u) { return u == UnitSystem::mm ? "mm" : "in"; }
/// mm per that unit.
inline double mm_per_unit(UnitSystem u) { return u == UnitSystem::mm ? 1 : inch; }

/// A length for reading, without its unit: so many decimals in mm; in inches two more, but no more than four.
inline std::string spoken_length(double mm, int decimals, UnitSystem u, bool sign = false) {
  return u == UnitSystem::mm ? spoken(mm, decimals, sign) : spoken(mm / inch, std::min(4, decimals + 2), sign);
}
/// An area with its unit: so many decimals of a cm², one more of an in².
inline std::string spoken_area(double mm2, int decimals, UnitSystem u) {
  return u == UnitSystem::mm ? spoken(mm2 / 100, decimals) + " cm²"
                             : spoken(mm2 / (inch * inch), decimals + 1) + " in²";
}
/// A volume with its unit: so many decimals of a cm³, one more of an in³.
inline std::string spoken_volume(double mm3, int decimals, UnitSystem u) {
  return u == UnitSystem::mm ? spoken(mm3 / 1000, decimals) + " cm³"
                             : spoken(mm3 / (inch * inch * inch), decimals + 1) + " in³";
}
/// A place on the tool with its unit, with its height or (two axes) without: "x 82, y −47 mm".
inline std::string spoken_place(const Vec3& p, UnitSystem u, int axes = 3) {
  return "x " + spoken_length(p.x(), 0, u) + ", y " + spoken_length(p.y(), 0, u) +
         (axes < 3 ? "" : ", z " + spoken_length(p.z(), 0, u)) + " " + length_unit(u);
}

/// The decimal points in a text as commas.
inline std::string decimal_commas(std::string s) {
  const auto digit = [](char c) { return c >= '0' && c <= '9'; };
  for (std::size_t i = 1; i + 1 < s.size(); ++i)
    if (s[i] == '.' && digit(s[i - 1]) && digit(s[i + 1])) s[i] = ',';
  return s;
}

template <class... T>
std::string words(const char* format, T... values) {
  std::string text(std::snprintf(nullptr, 0, format, values...), '\0');
  std::snprintf(text.data(), text.size() + 1, format, values...);
  return text;
}

}  // namespace gapfront
