// Pressure in the wetted part of the network.
#pragma once
#include <vector>

#include "flow/network.hpp"

namespace gapfront {

/// Solves Σ_j t_ij (p_i − p_j) = 0 at the wetted nodes by conjugate gradients, started from what `p` holds, with a
/// symmetric Gauss–Seidel preconditioner (nothing to set up when the front moves on).
class PressureSolver {
 public:
  explicit PressureSolver(const Network& net);
  /// `wet`: 1 where p is unknown; elsewhere p is given. Stops when the residual is `tolerance` of the flow scale.
  /// Returns the number of iterations.
  int solve(const std::vector<char>& wet, std::vector<double>& p, double tolerance);
  /// Conductance between a wetted node and a dry one: negative ones (obtuse triangles) would suck resin back.
  static double front(double t) { return t > 0 ? t : 0; }

 private:
  const Network& net_;
  std::vector<int> rows_;
  std::vector<double> diagonal_, r_, z_, d_, q_;
};

}  // namespace gapfront
