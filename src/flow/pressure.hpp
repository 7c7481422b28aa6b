// Pressure in the wetted part of the network.
#pragma once
#include <utility>
#include <vector>

#include "flow/multigrid.hpp"

namespace gapfront::flow {

/// A place of one pressure integral, joined to many nodes, that holds the more the greater that is: Σ t (w − integral)
/// = keeps + gives · integral. What it holds follows the nodes' integrals at once.
struct GasPocketConstraint {
  std::vector<int> nodes;                     ///< that have this integral
  std::vector<std::pair<int, double>> links;  ///< to a full node; conductance
  double keeps = 0, gives = 0;                ///< mm³, mm³ per integral
  double integral = 0;                        ///< that integral: the answer
};

/// Solves Σ_j t_ij (w_j − w_i) = rhs_i at the wetted nodes by conjugate gradients, started from what `w` holds.
class PressureSolver {
 public:
  explicit PressureSolver(const Network&, std::shared_ptr<const Ladder> ladder = {});  ///< see Multigrid
  void join(int node) { grid_.join(node); }    ///< wetted: its pressure is unknown
  void leave(int node) { grid_.leave(node); }  ///< its pressure is given again
  bool joined(int node) const { return grid_.joined(node); }
  const std::vector<int>& rows() const { return grid_.rows(); }  ///< the unknowns
  const Rows& lie() const { return grid_.lie(); }                ///< of the whole network
  /// Until what does not balance adds up to no more than `loose` (in the unit of `rhs`). `w` holds what is given, and
  /// the first guess; that of the pockets' nodes is found along with the rest. `laid`: the conductances, as lie() has
  /// them. False: not so far within the most iterations, and `w` is as near as they came.
  bool solve(std::vector<double>& w, const std::vector<double>& laid, const std::vector<double>& rhs, double loose,
             std::vector<GasPocketConstraint>& constraints);

 private:
  Multigrid grid_;
  Eigen::VectorXd r_, before_, z_, d_, q_;
};

}  // namespace gapfront::flow
