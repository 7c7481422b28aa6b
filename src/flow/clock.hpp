// Time against what flows in it: ∫ dt / viscosity, of resin that thickens.
#pragma once
#include <vector>

#include "gapfront/flow.hpp"

namespace gapfront {

/// Ages that do not rise, viscosities that are none, resin that has gelled before it enters.
void check_options(const ResinAge&);

namespace flow {

/// All resin is as old as the first of it, so that one viscosity holds everywhere, and what a pressure integral needs
/// is ∫ dt/µ. Resin that does not age has the one viscosity, and no list is made.
class ResinClock {
 public:
  explicit ResinClock(const FlowOptions&);
  /// Time of the fill at which it gels, s; infinity: never.
  double gels_at() const { return gels_at_; }
  /// Harmonic mean over a time (s of the fill, and how long): what a step of that length has in place of one viscosity.
  double mean(double from, double time) const;
  /// How long, from then on, until this pressure (Pa) has given that pressure integral; infinity: it gels before.
  double time_for(double from, double integral, double pressure) const;
  /// The pressure integral that a pressure may still give before it gels.
  double left(double from, double pressure) const;

 private:
  double fresh(double age) const;     // ∫ da / factor from nought on, s
  double age_at(double fresh) const;  // the inverse
  double viscosity_, start_, gels_at_;
  std::vector<double> age_, factor_, fresh_;
  double end_ = 0;  // `fresh` at gelling
};

}  // namespace flow
}  // namespace gapfront
