// Writing quantities for people, in the unit system the job asks for.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>

#include "gapfront/units.hpp"
#include "units/digits.hpp"
#include "units/inch.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

std::string text(double x, int decimals, const char* unit) {
  if (!std::isfinite(x)) return std::string(kNoNumberWord) + " " + unit;
  char s[64];
  std::snprintf(s, sizeof s, "%.*f", decimals, x);
  // A rounded-away negative reads as plain zero.
  std::string number = s;
  if (number[0] == '-' && number.find_first_not_of("-0.") == std::string::npos) number.erase(0, 1);
  return number + " " + unit;
}

/// Decimals that leave three significant figures, at most `most`.
int decimals(double x, int most) {
  const double size = std::abs(x);
  if (!(size > 0) || !std::isfinite(size)) return std::min(most, 2);
  return std::clamp(2 - static_cast<int>(std::floor(std::log10(size))), 0, most);
}

}  // namespace

std::string format_length(double mm, UnitSystem system, bool fine) {
  if (system == UnitSystem::mm) return fine && std::abs(mm) < 1 ? text(mm * 1000, 0, "µm") : text(mm, 2, "mm");
  return fine && std::abs(mm) < inch ? text(mm / inch * 1000, 1, "thou") : text(mm / inch, 4, "in");
}

std::string format_pressure(double pa, UnitSystem system) {
  return system == UnitSystem::mm ? text(pa / 1e5, 2, "bar") : text(pa / 6894.757, 1, "psi");
}

std::string format_area(double mm2, UnitSystem system) {
  const double x = system == UnitSystem::mm ? mm2 / 100 : mm2 / (inch * inch);
  return text(x, size_decimals(x, system), system == UnitSystem::mm ? "cm²" : "in²");
}

std::string format_volume(double mm3, UnitSystem system) {
  const double x = system == UnitSystem::mm ? mm3 / 1000 : mm3 / (inch * inch * inch);
  return text(x, size_decimals(x, system), system == UnitSystem::mm ? "cm³" : "in³");
}

std::string format_flow_rate(double mm3_s, UnitSystem system) {
  return system == UnitSystem::mm ? text(mm3_s * 60 / 1e6, 2, "L/min") : text(mm3_s * 60 / gallon, 2, "gal/min");
}

std::string format_time(double s) {
  if (!std::isfinite(s)) return "never";
  const double size = std::abs(s);
  if (size < 9.95) return text(s, 1, "s");
  if (size < 59.5) return text(s, 0, "s");
  return (s < 0 ? "-" : "") + minutes_and_hours(size);
}

std::string format_force(double f, UnitSystem system) {
  const double newton = f / 1e6;
  // Lofts, and with them the push of the glass, scatter by a quarter: two digits are more than is known.
  const double kn = newton / 1e3, lbf = newton / 4.4482216152605;  // NIST SP 811
  return system == UnitSystem::mm
             ? text(kn,
                    std::abs(kn) < 0.995  ? 2
                    : std::abs(kn) < 9.95 ? 1
                                          : 0,
                    "kN")
             : text(std::abs(lbf) < 995 ? 10 * std::round(lbf / 10) : 100 * std::round(lbf / 100), 0, "lbf");
}

std::string format_mass(double g, UnitSystem system) {
  if (system == UnitSystem::mm) {
    if (std::abs(g) >= 1000) return text(g / 1000, 2, "kg");
    return text(g, std::min(1, decimals(g, 1)), "g");
  }
  const double oz = g / 28.349523125;
  return text(oz, std::abs(oz) < 0.995 ? 2 : 1, "oz");
}

}  // namespace gapfront
