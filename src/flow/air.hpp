// The air ahead of the front: open to a vent, or caught.
#pragma once
#include <vector>

#include "flow/network.hpp"

namespace gapfront {

/// One connected dry part of the sheet.
struct DryRegion {
  std::vector<int> nodes;  ///< ascending from the seed outwards
  int pocket = -1;         ///< index of its gas, or −1: open to a vent (or too small to hold air)
  double space = 0;        ///< mm³ left to fill
};

/// Gas caught in a pocket; pressure × volume stays what it was (Boyle).
struct Gas {
  int parent = -1;
  double closed_at = 0, initial_volume = 0, content = 0;  ///< s, mm³, Pa·mm³
  std::vector<int> nodes;
};

class Air {
 public:
  Air(const Network& net, double vent_pressure)
      : net_(net), vent_pressure_(vent_pressure), gas_of_(net.size(), -1), mark_(net.size(), 0) {}
  /// Finds the dry regions again after nodes have filled. `full`: resin all through; `vented`: a dry node here
  /// touches an open vent.
  void relabel(const std::vector<char>& full, const std::vector<double>& filled, const std::vector<char>& vented,
               double time);
  const std::vector<DryRegion>& regions() const { return regions_; }
  const std::vector<Gas>& gas() const { return gas_; }
  double pressure(const DryRegion& r) const { return r.pocket < 0 ? vent_pressure_ : gas_[r.pocket].content / r.space; }
  bool any_pocket() const;
  void refresh(const std::vector<double>& filled);  ///< space of each region from what is filled

 private:
  const Network& net_;
  double vent_pressure_;
  std::vector<int> gas_of_;  // −1 open so far, −2 loose (too small), else index into gas_
  std::vector<char> mark_;
  std::vector<DryRegion> regions_;
  std::vector<Gas> gas_;
};

}  // namespace gapfront
