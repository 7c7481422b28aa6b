// What a correction costs by the effort table.
#pragma once
#include "gapfront/correct.hpp"

namespace gapfront::correct {

/// Hours; `count` is of stations, `area_mm2` of the worked face. Kinds that the table lacks cost nothing known: 1 h, so
/// that their benefit can still be ranked.
inline double effort_hours(const CorrectOptions& o, Kind kind, double count, double area_mm2) {
  const int parts = o.prices.parts > 0 ? o.prices.parts : counted_parts;
  for (const auto& e : o.effort)
    if (e.kind == kind) return e.fixed + e.each * count + e.per_cm2 * area_mm2 / 100 + e.per_part * parts;
  return 1;
}

}  // namespace gapfront::correct
