// What a part takes of glass and resin, what it costs, and whether a correction pays.
#pragma once
#include <string>
#include "gapfront/cavity.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/laminate.hpp"

namespace gapfront {

/// Prices, in one currency. 0: not given.
struct Prices {
  std::string currency;
  double resin = 0, glass = 0;  ///< per g
  double hour = 0;              ///< of bench work
  double scrap = 0;             ///< of a bad part, beyond its material
  double parts = 0;             ///< still to be made with the tool
  bool any() const { return resin > 0 || glass > 0 || hour > 0 || scrap > 0; }
};
/// A mass with its expanded uncertainty, g.
struct Mass {
  double g = 0, U = 0;
};
/// What one part takes.
struct MaterialUse {
  Mass glass, resin;    ///< in the part
  double waste = 0;     ///< g of resin in the catch pot
  double cost = 0;      ///< material of a part, waste included
};

namespace flow {
/// Glass and resin of a part: masses over the sheet. Their uncertainty: the gap's (registration, instrument and
/// temperature in common over the sheet) and the glass's areal weight. The waste is what bled at the vents. Resin has the
/// density of the hardened part; a cavity filled with liquid resin that shrinks later holds some 8 % less (from memory).
MaterialUse material_use(const Sheet&, const GapMap&, const LaminateMap&, const LaminateOptions&, const FlowOptions&,
                         const Filling&, const Prices&);
}  // namespace flow

/// Whether to correct: what the parts still to be made lose by trapped air with and without the work, in money.
struct Payback {
  double work = 0;               ///< hours × rate
  double scrap_now = 0, scrap_after = 0;  ///< expected, over the parts still to be made
  double saved() const { return scrap_now - scrap_after - work; }
};

}  // namespace gapfront
