// What lies between pump and cavity, which way is down, how resin ages, and how it goes through the glass. All of it is
// off as it stands here, and costs nothing then.
#pragma once
#include <limits>
#include <utility>
#include <vector>
#include "gapfront/geometry.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// Hose, pump and gauge, and the line to the catch pot.
///
/// Resin in a round hose: Δp = R·µ·Q, R = 128 L/(π d⁴) (Hagen–Poiseuille, laminar; resin in a hose has a Reynolds
/// number far below 2000). One hose feeds all inlets; where it splits at the mold, give the common part. Time counts
/// from the first resin in the cavity; what fills the hose before is `hose_volume`.
struct Supply {
  double hose_length = 0, hose_bore = 0;  ///< mm; 0: no hose, or nothing known of it
  bool gauge_at_pump = false;             ///< the limit holds at the pump's end of the hose; otherwise at the inlet
  double pump_above = 0;  ///< the pump's outlet (and gauge) above the inlet, mm; negative: below. Resin column
  double max_rate = 0;    ///< the pump delivers no faster than this, mm³/s; 0: unknown
  double vent_length = 0, vent_bore = 0;  ///< of each line from a vent to the catch pot, mm; 0: unknown
  double pot_volume = 0;       ///< what the catch pot holds before resin reaches the pump behind it, mm³; 0: unknown
  double resistance() const;   ///< R of the hose, 1/mm³ (so that R·µ·Q is Pa)
  double hose_volume() const;  ///< mm³
  /// Whether anything lies before the inlet or behind the vents.
  bool any() const { return hose_length > 0 || pump_above != 0 || max_rate > 0 || vent_length > 0 || pot_volume > 0; }
};

/// Which way is down in the tool as it is injected: resin weighs ρ g. Darcy's law is then q = −(K/µ)(∇p − ρ g).
struct Gravity {
  Vec3 down = Vec3::Zero();  ///< of any length; zero: the tool lies level, or its height does not matter
  double density = 1.1e-3;   ///< of the liquid resin, g/mm³ (unsaturated polyester 1.1; from memory)
  /// Whether weight counts.
  bool on() const { return down.squaredNorm() > 0; }
  Vec3 pull() const { return on() ? Vec3(density * free_fall * down.normalized()) : Vec3::Zero(); }  ///< Pa/mm
};

/// How resin thickens from the moment it is mixed. All of it is as old as what came first (one batch): a mixing head
/// gives younger resin behind the front, which thickens less; so this is the safe side.
struct ResinAge {
  /// (age in s, viscosity over that of fresh resin), ascending in age; straight in the logarithm between, held before
  /// the first and going on as between the last two after the last. Empty: it does not thicken.
  std::vector<std::pair<double, double>> rise;
  double start = 0;  ///< age when the first of it enters the cavity, s
  /// Age from which nothing flows any more, s.
  double gel = std::numeric_limits<double>::infinity();
  /// The rise stands up to here, s; past it is a guess. Infinity: up to gelling.
  double known_to = std::numeric_limits<double>::infinity();
  /// Whether the resin thickens or gels.
  bool on() const { return !rise.empty() || gel < std::numeric_limits<double>::infinity(); }
  double factor(double age) const;  ///< viscosity over that of fresh resin; infinity once it has gelled
};

namespace flow {
/// Rise by two numbers: µ/µ₀ = (1 − t/gel)^−n, n such that it has doubled at the pot life. It is Castro and Macosko's
/// rise (AIChE J. 28, 1982; from memory) for a cure that goes on evenly, without its second term. Listed so that what
/// is straight between is off by less than 0.1 %. Throws Error{Fault::input} unless 0 < pot_life < gel.
ResinAge rise_to_gel(double pot_life, double gel);
}  // namespace flow

/// Resin through the thickness: it runs in the open channel first and soaks the glass below from there.
struct WetOut {
  /// Permeability through the thickness over that along the first direction; 0: not looked at.
  double through = 0;
};

/// What a filling tells of all this.
struct SupplyCourse {
  bool on = false;       ///< something of it was asked for; otherwise the rest is nothing
  double pump_peak = 0;  ///< greatest pressure at the pump's end of the hose, above atmosphere, Pa
  double hose_peak = 0;  ///< greatest loss in the hose, Pa
  double head = 0;       ///< of the column between pump and inlet, Pa
  double column = 0;     ///< what the resin's weight makes from the highest to the lowest place of the sheet, Pa
  double vent_air = 0;   ///< greatest loss of air in the vent lines, Pa, were all of it to leave by one of them
  double bled = 0;       ///< into the catch pot, mm³
  /// When resin gelled, or came to stand under its own weight, before all was full (s of the fill); the sheet area that
  /// was dry then and is no pocket, mm². Parts of it of three nodes or more are listed with the pockets: dry is dry.
  double gelled_at = std::numeric_limits<double>::infinity(), stands_at = gelled_at, left_dry = 0;
  double thickest = 1;      ///< greatest viscosity over that of fresh resin while it flowed
  bool past_known = false;  ///< it ran longer than the rise is known
  bool runs_down = false;   ///< resin would run down faster than it comes: a place is below the vents' pressure
  /// Of the stack below an open channel: the longest that it takes to be wet through after the front has passed, s, and
  /// where; the area that is not through at the end, mm², and where most of its thickness is dry.
  double soak_time = 0, soak_dry = 0;
  Vec3 soak_at = Vec3::Zero(), soak_dry_at = Vec3::Zero();
  /// With a viscosity at both ends of its interval (nineteen in twenty): fill times, s, and what stays dry with the
  /// thicker resin, mm². 0, 0: not looked at. See try_viscosities().
  double thin_time = 0, thick_time = 0, thick_dry = 0;
};

}  // namespace gapfront
