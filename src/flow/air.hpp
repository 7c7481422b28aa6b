// The air ahead of the front: open to a vent, or caught.
#pragma once
#include <vector>

#include "flow/front.hpp"

namespace gapfront::flow {

/// One connected part of the sheet that is not full.
struct DryRegion {
  std::vector<int> nodes;  ///< from the seed outwards
  int pocket = -1;         ///< index of its gas, or −1: open to a vent (or too small to hold air)
  double space = 0;        ///< mm³ left to fill
  /// The same outside the mouths of vents, whose own air gets out while they are covered.
  int nodes_outside = 0;
  double space_outside = 0;
};

/// Gas caught in a pocket; pressure × volume stays what it was (Boyle).
struct Gas {
  double closed_at = 0, initial_volume = 0;  ///< s; mm³, at the vents' pressure
  std::vector<int> nodes;                    ///< when it was closed
  double integral_before = 0,
         integral = 0;  ///< its pressure integral ∫ (p − p_vent)/µ dt at the start of the step, and now
};

class Air {
 public:
  /// `mouth`: whether some of a node's cell lies in the mouth of a vent.
  Air(const Network& net, double vent_pressure, std::vector<char> mouth);
  /// Finds the dry regions again after a step. `vented`: a node here that is not full touches an open vent.
  void relabel(const Front&, const std::vector<char>& vented, double time);
  /// At the start of a step: every gas keeps the pressure it has, `step` = time / µ.
  void begin(Front&, double step);
  /// Within it: front and gas in balance (see Front::balance), by one step of Newton's towards Boyle's law.
  bool balance(Front&, double step, double loose);
  bool settled(const Front&, double step) const;  ///< every gas obeys it
  void undo();                                    ///< back to where the step began
  const std::vector<DryRegion>& regions() const { return regions_; }
  const std::vector<Gas>& gas() const { return gas_; }
  bool caught(int node) const { return gas_of_[node] >= 0; }
  double pressure(const DryRegion& r) const {
    return r.pocket < 0 ? vent_pressure_ : vent_pressure_ * gas_[r.pocket].initial_volume / r.space;
  }

 private:
  void share_out();
  double space(const Front&, const DryRegion&) const;
  double mean_pressure(const Gas& g, double step) const {
    return vent_pressure_ + (g.integral - g.integral_before) / step;
  }

  const Network* net_;
  double vent_pressure_, mean_volume_;
  std::vector<int> gas_of_;  // −1 open so far, −2 loose (too small), else index into gas_
  std::vector<char> mouth_;  // 1: in the mouth of a vent
  std::vector<char> seen_;   // work of relabel: full, or found already
  std::vector<int> found_;
  std::vector<DryRegion> regions_;
  std::vector<Gas> gas_;
};

}  // namespace gapfront::flow
