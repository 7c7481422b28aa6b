// Pressure in the wetted part of the network.
#pragma once
#include <vector>

#include "flow/multigrid.hpp"

namespace gapfront {

/// Solves Σ_j t_ij (p_i − p_j) = 0 at the wetted nodes by conjugate gradients, started from what `p` holds.
class PressureSolver {
 public:
  explicit PressureSolver(const Network& net);
  void join(int node) { grid_.join(node); }    ///< wetted: its pressure is unknown
  void leave(int node) { grid_.leave(node); }  ///< its pressure is given again
  bool joined(int node) const { return grid_.joined(node); }
  const std::vector<int>& rows() const { return grid_.rows(); }
  /// Takes in who has joined or left since. Call before solving.
  void prepare();
  /// Returns the number of iterations. `p` holds what is given, and the first guess.
  int solve(std::vector<double>& p);
  /// Pressure of a node that has just joined, in balance with its neighbours.
  double balanced(int node, const std::vector<double>& p) const;
  /// Conductance between a wetted node and a dry one: negative ones (obtuse triangles) would suck resin back.
  static double front(double t) { return t > 0 ? t : 0; }

 private:
  struct Outlet {
    int from, to;
    double c;
  };
  const Network& net_;
  Multigrid grid_;
  std::vector<Outlet> outlets_;
  std::vector<double> boundary_, r_, before_, z_, d_, q_;
};

}  // namespace gapfront
