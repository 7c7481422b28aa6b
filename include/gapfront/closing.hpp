// What holds the mold shut, and what pushes it open. Forces are Pa·mm² (µN).
#pragma once
#include <string>
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront {

/// Bending and stretching stiffness of a part of the upper half: a solid skin, or two skins on a light core.
struct StiffZone {
  std::string name;
  Region where;          ///< nothing given: everywhere
  double modulus = 0;    ///< Young's, of the skin, Pa
  double thickness = 0;  ///< of the skin (of each, where there is a core), mm
  double core = 0;       ///< mm; taken to carry no bending, and to shear by nothing
  double poisson = 0.3;
  double bending = 0;       ///< D, Pa·mm³ (nN·m); 0: follows from the above
  double plate() const;     ///< bending stiffness D, Pa·mm³
  double membrane() const;  ///< stretching stiffness E·t/(1 − ν²), Pa·mm
};

/// What holds the halves together besides the vacuum in the cavity.
struct ClosingOptions {
  double pressure = 0;          ///< mechanical, spread over the moulding face (press, frame, ballast), Pa
  double force = 0;             ///< of clamps at the flange, Pa·mm²
  double perimeter_vacuum = 0;  ///< how far below atmosphere the channel around the cavity is held, Pa
  double perimeter_width = 0;   ///< of that channel, mm
  /// Wanted: what closes is this many times what opens. 1.25: own choice, lofts, and compaction with them, scatter by
  /// 25 %.
  double safety = 1.25;
  bool everywhere = false;       ///< the advice keeps a light half shut at every place, not only as a whole
  std::vector<StiffZone> half;   ///< later ones win; empty: the upper half is rigid
  bool clamped_rim = false;      ///< at the seal line the upper half cannot turn; otherwise it can
  std::vector<Region> supports;  ///< frame or clamps over the face: it cannot move there
  /// Wet glass pushes back with this share of what dry glass does (fibres slide on resin, and give way in time); 1: the
  /// same. Its relative standard uncertainty: what is said of the balance with it holds for both ends.
  double wet_glass = 1, wet_glass_spread = 0;
  /// Glass that is let go again springs back along a steeper curve: its push falls with this power of what the loading
  /// curve says, relative to the gap of the dry mold under vacuum. 1: along the same curve.
  double unloading = 1;
};

/// Balance of forces on the upper half along the opening axis at one time; see `Opening`.
struct OpeningSample {
  double time = 0;
  double closing = 0, opening = 0;                     ///< Pa·mm²
  double minimum = 0;                                  ///< least local margin, Pa
  int node = -1;                                       ///< where
  double margin() const { return closing - opening; }  ///< Pa·mm²
  double safety() const;                               ///< closing / opening; +infinity where nothing opens
};

/// Whether the mold stays shut, in place and time.
///
/// Local, per unit of moulding face: the upper half is pushed down by the atmosphere outside and by what the clamps
/// spread over the face, and up by the fluid inside, with its absolute pressure, and by the squeezed glass, whose
/// pressure adds to that of the fluid (effective stress, Terzaghi):
///     margin = atmosphere + mechanical − fluid − compaction.
/// The fluid is the thinned air where the cavity is dry, resin where it is wet, caught gas in a pocket. The vacuum so
/// helps only where resin has not come yet: to count it as clamping against the resin that has taken its place would be
/// to count it twice. Negative: a light half lifts off the glass there.
///
/// As a whole, projected on the opening axis (the mean normal of the face; a vertical wall neither opens nor closes):
///     closing = ∫(atmosphere − fluid)⁺ dA + mechanical·A + clamps + perimeter vacuum × its area
///     opening = ∫(fluid − atmosphere)⁺ dA + ∫ compaction dA.
/// closing < opening: a rigid half lifts off its flange. Compaction is that of dry glass, the safe side; where
/// `ClosingOptions::wet_glass` says how far wet glass yields, glass under resin counts by the upper end of that.
struct Opening {
  OpeningSample dry;    ///< before the resin: can the mold be closed at all?
  OpeningSample force;  ///< when closing exceeds opening by the least
  OpeningSample place;  ///< when and where the local margin is least
  OpeningSample held;  ///< the whole cavity at the inlet's last pressure: what comes if the pump is not stopped in time
  std::vector<OpeningSample> history;
  std::vector<double> minimum;        ///< local margin per node, least over time, Pa
  std::vector<double> mean_pressure;  ///< fluid, per node, mean over the fill, absolute, Pa
  /// Fluid, per node, when closing exceeds opening by the least, absolute, Pa: at `force`, or later where shut-in air
  /// is still pressed after the end of the fill.
  std::vector<double> worst_pressure;
};

namespace flow {
/// Least of closing over opening force, from the empty mold under vacuum until it is full; +infinity: nothing opens it.
/// What comes if the pump is not stopped then (`held`) is the pump's matter, and is said apart.
double least_balance(const Opening&);
}  // namespace flow

}  // namespace gapfront
