#include "units/digits.hpp"

#include <algorithm>
#include <cmath>

#include "units/words.hpp"

namespace gapfront {
namespace {

/// Power of ten next to half a percent of the fill time; 0.1 s at the least.
double resolution(double fill_time) {
  if (!(fill_time > 0) || !std::isfinite(fill_time)) return 0.1;
  return std::max(0.1, std::pow(10, std::round(std::log10(0.005 * fill_time))));
}

}  // namespace

int decimals_for(double U, int most) {
  if (!(U > 0) || !std::isfinite(U)) return most;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(U) + 1e-9)), 0, most);
}

int second_decimals(double fill_time) { return resolution(fill_time) < 0.5 ? 1 : 0; }

std::string time_in_fill(double s, double fill_time) {
  if (!std::isfinite(s)) return "–";
  const double step = resolution(fill_time);
  const double size = step * std::round(std::abs(s) / step);
  const std::string sign = s < 0 && size > 0 ? "−" : "";
  if (step < 0.5 && size < 99.95) return sign + spoken(size, 1) + " s";
  if (const long whole = std::lround(size); whole < 60) return sign + std::to_string(whole) + " s";
  return sign + minutes_and_hours(size);
}

std::string minutes_and_hours(double s) {
  const auto both = [](long large, const char* unit, long small, const char* its) {
    return std::to_string(large) + unit + (small ? " " + std::to_string(small) + its : "");
  };
  if (const long whole = std::lround(s); whole < 3600) return both(whole / 60, " min", whole % 60, " s");
  const long m = std::lround(s / 60);
  return both(m / 60, " h", m % 60, " min");
}

std::string parts_percent(double fraction) {
  const double percent = 100 * fraction, tenth = std::round(10 * percent) / 10;
  return spoken(percent, tenth < 9.95 && tenth != std::round(tenth) ? 1 : 0) + " %";
}

namespace {
/// Of the second digit.
double step_of(double cycles) { return std::pow(10, std::max(0.0, std::floor(std::log10(std::max(cycles, 1.0))) - 1)); }
}  // namespace

double cycles_at_least(double cycles) {
  return std::isfinite(cycles) ? step_of(cycles) * std::floor(cycles / step_of(cycles) + 1e-9) : cycles;
}

std::string spoken_cycles(double cycles) {
  if (!std::isfinite(cycles)) return "–";
  const double step = step_of(cycles);
  return spoken(step * std::round(cycles / step), 0);
}

std::string tape_length(double mm, UnitSystem u) {
  if (!std::isfinite(mm)) return "–";
  return spoken_length(mm, 0, u) + " " + length_unit(u);
}

int size_decimals(double shown, UnitSystem u) {
  const double x = std::abs(shown);
  if (u == UnitSystem::mm) return x < 9.95 ? 1 : 0;
  return x < 0.995 ? 2 : x < 99.5 ? 1 : 0;
}

}  // namespace gapfront
