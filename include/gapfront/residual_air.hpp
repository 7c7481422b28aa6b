// Air that stays in a part, and where: what the front leaves behind as bubbles, how they move, what stays dry.
#pragma once
#include <array>
#include <numeric>
#include <string>
#include <vector>
#include "gapfront/flow.hpp"

namespace gapfront {

/// What is asked of residual air. All of it is off as it stands here, and costs nothing then.
struct AirOptions {
  bool on = false;
  /// Speed of a bubble between the bundles over that of the resin around it, 0 to below 1 (own choice, order of
  /// magnitude: no published number is used). 0: they stay where the front leaves them. Those inside the bundles do.
  double mobility = 0.5;
};

/// What stays at a place, by what a saw cut would show.
enum class AirClass : char {
  sound,            ///< hardly any air
  in_bundles,       ///< fine bubbles inside the bundles
  between_bundles,  ///< bubbles between the bundles
  dry_below,        ///< wet on top; the glass below an open channel is not soaked through
  dry,              ///< resin never came
};
constexpr std::size_t kAirClasses = 5;
const char* to_string(AirClass);

/// The modified capillary numbers between which the front leaves fewest bubbles: slower, resin is drawn into the
/// bundles first and air stays between them; faster, it runs between them first and air stays inside (Patel & Lee 1996;
/// Ruiz et al. 2006: limits from memory, order of magnitude).
constexpr double kSlowFront = 1e-3, kFastFront = 1e-2;

/// An inside radius that the glass bridges: resin runs ahead in the channel behind it, and air stays there as worms.
struct WormedRadius {
  std::string name;
  double length = 0, roving = 0;  ///< mm of channel; g of roving that fill it
};

/// The air that a filling leaves, at its end.
struct ResidualAir {
  bool computed = false;
  std::vector<AirClass> node;           ///< per node
  std::vector<double> inside, between;  ///< per node: bubbles' share of the laminate's volume, in and between bundles
  std::array<double, kAirClasses> area{};  ///< mm² of each class
  std::array<double, kAirClasses> held{};  ///< the same, had the pump's last pressure been held until the resin gels
  /// Gas of the bubbles as volume at atmospheric pressure, mm³: what the front left, inside and between the bundles; of
  /// that what left with resin through vents that bleed, and what came into air that is trapped.
  double formed_inside = 0, formed_between = 0, bled = 0, to_pockets = 0;
  int worst = -1;                    ///< node of the greatest share of bubbles; −1: none is over the bound of `sound`
  std::vector<WormedRadius> wormed;  ///< put in by pipeline::predict(), which knows the bridges
  double whole() const { return std::accumulate(area.begin(), area.end(), 0.0); }  ///< area of the sheet, mm²
};

namespace flow {
/// Bubbles behind the front, their way through the laminate, and the map of what stays. One way: bubbles change neither
/// resin nor front, as thin as they are.
///
/// A node that the front passes keeps a share of its pores as gas, none between kSlowFront and kFastFront of Ca*, and
/// 3 % of the pores more for each tenfold beyond (order of magnitude, from memory), at the pressure of the air there.
/// Per node n = p·V of the gas is kept (Boyle, isothermal): bubbles are pressed together and released as the resin's
/// pressure p changes. Gas between bundles moves with Darcy's flow, times `mobility`:
///     ∂n/∂t + ∇·(mobility · u/φ · n) = 0,
/// by implicit upwinding node by node down the pressure, which keeps the gas to rounding and its place to a cell or so.
/// In a straight front it follows that gas left at x₀ stands at (1 − m) x₀ + m x_f. It leaves the part with resin
/// through a vent that bleeds, and through nothing else: vacuum that is left on behind resin takes none of it out.
///
/// `sound`: below 1 % of the volume (from memory: about where strength between plies begins to fall). Left out: what
/// dissolves or boils, necks that hold bubbles, bubbles that join, air that comes with the resin. Read it as where, and
/// which of two ways to fill is better, not as how much.
///
/// `filling` must be fill() of the same sheet, laminate and options; it is run once more. Nothing where `on` is false.
/// Throws Error{Fault::input} for a mobility that is none, without a surface tension, and for a filling of another
/// sheet.
ResidualAir residual_air(const Sheet&, const LaminateMap&, const FlowOptions&, const Filling&, const AirOptions&);
}  // namespace flow

}  // namespace gapfront
