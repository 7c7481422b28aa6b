// Pressure in the wetted part of the network.
#pragma once
#include <vector>

#include "flow/multigrid.hpp"

namespace gapfront {

/// Solves Σ_j t_ij (w_j − w_i) = owed_i at the wetted nodes by conjugate gradients, started from what `w` holds.
class PressureSolver {
 public:
  /// Numbers the nodes for itself, outwards from the inlet: what is wetted together then lies together in memory.
  PressureSolver(const Network& net, const std::vector<int>& inlet);
  void join(int node);                                    ///< wetted: its pressure is unknown
  void leave(int node);                                   ///< its pressure is given again
  bool joined(int node) const { return grid_.joined(place_[node]); }
  const std::vector<int>& rows() const { return rows_; }  ///< the unknowns, in order of joining
  /// Until what does not balance adds up to no more than `loose` (in the unit of `owed`). `w` holds what is given, and
  /// the first guess. Returns the number of iterations.
  int solve(std::vector<double>& w, const std::vector<double>& owed, double loose);

 private:
  std::vector<int> order_, place_, rows_;  // node at each place, and place of each node
  Network net_;                            // by place
  Multigrid grid_;
  std::vector<double> w_, r_, before_, z_, d_, q_;
};

}  // namespace gapfront
