// Colour scales: one for all states of a quantity, with round ticks, the limits, and what lies beyond.
#pragma once
#include <string>
#include <vector>

#include "report/fields.hpp"

namespace gapfront::report {

/// In shown units (mm or in, s, bar or psi, %), so that ticks are round where they are read.
struct ColourScale {
  double low = 0, high = 1;
  double step = 0.2;                  ///< of the ticks: 1, 2 or 5 times a power of ten
  std::vector<double> ticks, limits;  ///< limits: tolerance limits, where they are the same all over the sheet
  int decimals = 1;                   ///< of ticks
};

/// Largest of 1, 2, 5 × 10^k that does not exceed x.
double round_step(double x);

/// Fields of one name here share a scale: "gap_mm", "nominal_mm" and "gap_after_mm" are one family.
std::string scale_family(const std::string& id);

/// From the 1st to the 99th percentile of all fields given, so that one bad node does not wash out the map; about zero
/// where zero has a meaning, and wide enough for the limits (internal units).
ColourScale common_scale(const std::vector<const Field*>&, UnitSystem, std::vector<double> limits = {});
/// Of a field among all: from its whole family, and the limits that hold for it.
ColourScale scale_of(const std::vector<Field>& all, const Field&, UnitSystem);

/// Least and greatest value of a field in shown units; NaN without values.
struct Extremes {
  double minimum, maximum;
};
Extremes extremes(const Field&, UnitSystem);

}  // namespace gapfront::report
