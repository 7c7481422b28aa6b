// The effort table: what each correction costs a tool-maker, in one place.
#pragma once
#include "gapfront/correct.hpp"

namespace gapfront {

/// Hours = fixed + per station or region · count + per cm² · area. From memory, order of magnitude only: they rank
/// corrections, they are no quotation.
struct Effort {
  Kind kind;
  double fixed, each, per_cm2;
  const char* what;
};
inline constexpr Effort kEffort[] = {
    {Kind::shim, 0.5, 0.25, 0, "open, change the stacks, close and check"},
    {Kind::build_up, 3, 0, 0.02, "clean and key, fill, cure, work to the template, seal and polish"},
    {Kind::relief, 2, 0, 0.04, "grind to depth stops, fair, seal and polish"},
    // A patch is cheap but is laid in every part: counted for twenty parts at five minutes and a little per area.
    {Kind::glass_patch, 1.7, 0, 0.005, "cut and lay the patch, counted for twenty parts"},
    {Kind::radius_packing, 1.7, 0, 0.01, "lay roving into the radius, counted for twenty parts"},
};
inline double effort_hours(Kind kind, double count, double area_mm2) {
  for (const auto& e : kEffort)
    if (e.kind == kind) return e.fixed + e.each * count + e.per_cm2 * area_mm2 / 100;
  return 0;
}

}  // namespace gapfront
