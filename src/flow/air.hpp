// The air ahead of the front: open to a vent, or caught.
#pragma once
#include <vector>

#include "flow/front.hpp"

namespace gapfront {

/// One connected part of the sheet that is not full.
struct DryRegion {
  std::vector<int> nodes;  ///< from the seed outwards
  int pocket = -1;         ///< index of its gas, or −1: open to a vent (or too small to hold air)
  double space = 0;        ///< mm³ left to fill
};

/// Gas caught in a pocket; pressure × volume stays what it was (Boyle).
struct Gas {
  int parent = -1;
  double closed_at = 0, initial_volume = 0, content = 0;  ///< s, mm³, Pa·mm³
  std::vector<int> nodes;
  double pushed = 0, push = 0;  ///< ∫ (p − p_vent)/µ dt at the start of the step, and now
  double yield = 0;             ///< space gained per push, mm³
  double seen_space = 0, seen_push = 0;
};

class Air {
 public:
  Air(const Network& net, double vent_pressure)
      : net_(&net), vent_pressure_(vent_pressure), gas_of_(net.size(), -1), mark_(net.size(), 0) {}
  /// Finds the dry regions again after a step. `vented`: a node here that is not full touches an open vent.
  void relabel(const Front&, const std::vector<char>& vented, double time);
  /// Within a step: the gas of every pocket against its space, `step` = its time / µ. True when they agree; otherwise
  /// the gas pushes anew. `settled`: no cell has filled since the last call.
  bool press(Front&, double step, bool settled);
  void undo();  ///< back to where the step began
  const std::vector<DryRegion>& regions() const { return regions_; }
  const std::vector<Gas>& gas() const { return gas_; }
  bool caught(int node) const { return gas_of_[node] >= 0; }
  double pressure(const DryRegion& r) const { return r.pocket < 0 ? vent_pressure_ : gas_[r.pocket].content / r.space; }

 private:
  const Network* net_;
  double vent_pressure_;
  std::vector<int> gas_of_;  // −1 open so far, −2 loose (too small), else index into gas_
  std::vector<char> mark_;
  std::vector<DryRegion> regions_;
  std::vector<Gas> gas_;
};

}  // namespace gapfront
