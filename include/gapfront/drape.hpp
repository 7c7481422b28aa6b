// Cloth over the sheet: a net of threads that do not stretch and turn at their crossings.
#pragma once
#include <vector>
#include "gapfront/laminate.hpp"

namespace gapfront {

/// A mesh of the net: four threads, each a cell long.
struct NetCell {
  Vec3 at = Vec3::Zero();                         ///< its middle
  Vec3 warp = Vec3::Zero(), weft = Vec3::Zero();  ///< unit, along its threads
  int i = 0, j = 0;                               ///< cells from the start along warp and weft; −1 is the first below
  double threads() const;                         ///< angle from warp to weft, rad
};

namespace laminate {
/// Kinematic net (pin-jointed: Mack & Taylor 1956, from memory): from `start` along `warp`, laid onto the sheet, and
/// squarely to it two threads run straight (geodesics); every further crossing lies on the sheet, one `cell` (mm) from
/// two that are known. Beyond a rim or over a hole the net goes on along the tangent plane for some cells. In the limit
/// of small cells the threads' angle obeys φ_uv = −K sin φ (Chebyshev 1878; K Gauss's curvature). Ends where threads
/// would close to less than 15°. Throws Error{Fault::input} for a start that is not near the sheet, a direction that
/// stands on it.
std::vector<NetCell> weave_net(const Sheet&, const Vec3& start, const Vec3& warp, double cell);
/// Nets for the cloth of these plies (zones that replace them too), one for each direction, with cells of the sheet's
/// median edge. Empty where draping is off or no ply is cloth. Sheared by γ, cloth has 1/cos γ times the glass per area
/// (threads keep their length; the cell's area is cos γ), and its permeability follows its two families of threads
/// (see Stack). Throws as weave_net().
std::vector<DrapedCloth> drape(const Sheet&, const LaminateOptions&);
/// Greatest stretch of what must follow a net sheared so far without threads of its own, as a mat: √(1 + sin γ).
double stretch_of(double shear);
}  // namespace laminate

}  // namespace gapfront
