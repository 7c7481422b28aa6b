// What a part takes of glass and resin, and what that costs.
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
  double hour = 0;              ///< of work
  double bad_part = 0;          ///< what it took to make, and to be rid of, beyond its glass and resin
  int parts = 0;                ///< that the run still makes
  /// Glass or resin have a price.
  bool material() const { return resin > 0 || glass > 0; }
  /// Enough is given to choose by the expected cost of the run.
  bool decide() const { return hour > 0 && bad_part > 0 && parts > 0; }
};

/// A mass with its expanded uncertainty (k = 2), g.
struct Mass {
  double g = 0, U = 0;
};
/// What one part takes.
struct MaterialUse {
  Mass glass, resin;  ///< in the part
  double waste = 0;   ///< resin that goes in and is in no part: bled into the catch pot, left in a runner, g
  double hose = 0;    ///< that hardens in the hose, g
  double cost = 0;    ///< of all of it, in the currency; 0: no price is given
};

namespace flow {
/// Glass and resin of a part that has this laminate, g, without uncertainty. The cavity is filled with liquid resin
/// (Gravity::density); where air stays the part lacks resin, and that is a fault and no saving.
MaterialUse part_masses(const Sheet&, const LaminateMap&, const LaminateOptions&, const FlowOptions&);
/// The same with U, waste and cost. U of the resin: of the cavity's volume, by the causes of the gap's U; of the glass
/// that displaces it; of its density, 2 % (from memory: 1.08 to 1.14 g/cm³). U of the glass: its areal weight, all
/// plies alike, 5 % where the job gives no spread (as the built-in list says). `laminate` and `filling` are of one
/// state.
MaterialUse material_use(const Sheet&, const GapMap&, const LaminateMap& laminate, const LaminateOptions&,
                         const FlowOptions&, const Filling&, const Prices&);
}  // namespace flow

}  // namespace gapfront
