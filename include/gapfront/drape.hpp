// Cloth over the sheet: a net of threads that do not stretch and turn at their crossings.
#pragma once
#include <vector>
#include "gapfront/laminate.hpp"

namespace gapfront {

/// Where a net starts, and how.
struct DrapeOptions {
  Vec3 start = Vec3::Zero();  ///< near the sheet
  Vec3 warp = Vec3::Zero();   ///< direction 0 there; zero: no net
  double cell = 0;            ///< mm; 0: the sheet's median edge
  double lock = 0.87;         ///< shear at which cloth locks and wrinkles, rad: 50° (from memory, 40 to 60°)
};

/// A net laid over the sheet.
struct Net {
  std::vector<DrapedPlace> places;  ///< one per crossing
  double greatest_shear = 0;        ///< rad
  Vec3 at = Vec3::Zero();           ///< of it
  double covered = 0;               ///< share of the sheet's area that lies within a cell of it
  double locked_area = 0;           ///< of the sheet, sheared beyond the lock, mm²
};

namespace laminate {
/// Kinematic net (pin-jointed; Mack & Taylor 1956, from memory): warp and weft through the start are geodesics, then
/// each crossing is one cell from two that are known, on the sheet. Throws Error{Fault::input} for a start that is not
/// near the sheet.
Net drape(const Sheet&, const DrapeOptions&);
}  // namespace laminate

}  // namespace gapfront
