// Readings of the thickness at some places (clay, wax, lead, demolded parts) as a map of the gap over the sheet.
#pragma once
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"

namespace gapfront {

/// How the readings vary over the sheet, and what they leave open.
struct ReadingsField {
  int used = 0;                       ///< readings that lie on the sheet
  std::vector<std::string> left_out;  ///< the names of those that do not
  double length = 0;                  ///< most likely: where the correlation has fallen to 0.14, mm
  double sigma = 0;                   ///< most likely: standard deviation of what varies over the sheet, mm
  double farthest = 0;                ///< from a node to the reading nearest to it, at most, mm
};

/// A map of the gap by readings alone.
struct ReadingsMap {
  GapMap gap;
  ReadingsField field;
};

namespace cavity {
/// The gap on every node by readings alone: nominal (per node) plus what the readings say of the deviation, a constant
/// and a Gaussian field with a Matérn covariance of order 1 on the sheet itself, so along it and not through the tool
/// (by finite elements: Lindgren, Rue, Lindström, J. R. Stat. Soc. B 73, 2011). U takes in how little is known of the
/// field's length and size: both are averaged over by their likelihood. It holds for what varies like the readings do:
/// a defect that none of them has met is in no U. A reading's U is taken at `coverage`. Throws Error{input} for a
/// reading that is no number, Error{measurement} when fewer than 5 lie on the sheet.
ReadingsMap map_by_readings(const Sheet&, const std::vector<double>& nominal, const std::vector<SpotReading>&,
                            double coverage = 2);

/// How the field's correlations are taken. By the straight distance they cost a twentieth of the time: near enough for
/// what readings would do, not for what they did.
enum class Distance { along_sheet, straight };
/// Carries a measured map over to what readings in the clamped mold say of it: their difference is what registration,
/// instrument and temperature may be off by (as the map declares it), and a field as above. Nodes that are not measured
/// stay so. Errors as `map_by_readings`; two readings suffice.
ReadingsField update_by_readings(const Sheet&, GapMap&, const std::vector<SpotReading>&,
                                 Distance = Distance::along_sheet);
}  // namespace cavity

}  // namespace gapfront
