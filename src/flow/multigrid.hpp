// A ladder of ever coarser networks, by which a change of pressure crosses the whole wetted part in one sweep.
#pragma once
#include <Eigen/Cholesky>
#include <memory>
#include <vector>

#include "flow/network.hpp"
#include "flow/rows.hpp"

namespace gapfront::flow {

/// Which nodes act as one on every rung: clusters of strongly joined nodes, chosen from the whole sheet (plain
/// aggregation: Notay 2010). Serves every network with the same links, and works best where the ratios of the
/// conductances are about those that it was made from.
struct Ladder {
  explicit Ladder(const Network&);
  struct Rung {
    std::vector<int> start, to, up;  ///< up: the coarser rung's entry this one adds to, −1: inside a cluster
    Rows lie;
    std::vector<int> parent;  ///< of each node on the coarser rung; empty: there is none
    int size() const { return static_cast<int>(start.size()) - 1; }
  };
  std::vector<int> reverse;  ///< the entry j → i of the entry i → j
  std::vector<Rung> rungs;

 private:
  bool coarsen(std::vector<double>& w);
};

/// Preconditioner for the pressure in the wetted part: clusters act as one node of the next, coarser network (Notay's
/// K-cycle: two steps of conjugate gradients on every rung). What is joined to what is kept up as nodes get wet: an
/// edge adds its conductance to one entry on every rung, so that the coarse networks are exact at all times and cost
/// nothing to make.
class Multigrid {
 public:
  /// `ladder`: of a network with the same links; made from this one where there is none.
  explicit Multigrid(const Network&, std::shared_ptr<const Ladder> ladder = {});
  void join(int node);   ///< becomes an unknown
  void leave(int node);  ///< its pressure is given again
  bool joined(int node) const { return levels_[0].members[node] > 0; }
  const std::vector<int>& rows() const { return levels_[0].rows; }  ///< the unknowns, ascending after `prepare`
  const Rows& lie() const { return levels_[0].on->lie; }            ///< of the whole network
  /// Takes in who has joined or left since. Call before `precondition`.
  void prepare();
  /// y = A x over the unknowns.
  void multiply(const double* x, double* y) const { multiply(levels_[0], x, y); }
  /// z ≈ A⁻¹ r over the unknowns.
  void precondition(const double* r, double* z) { cycle(0, r, z); }

 private:
  struct Level {
    const Ladder::Rung* on;
    std::vector<double> w;  // conductance between unknowns, as the rows lie
    std::vector<int> members, rows;
    std::size_t sorted = 0;                         // so many rows are in ascending order
    std::vector<double> inner, boundary;            // Σ w to unknowns, and to places of given pressure
    std::vector<double> diagonal, inverse;          // both together, and 1 / that
    std::vector<double> r, x, c1, v1, c2, v2, res;  // work
    void add(int i, double in, double out);
  };
  static void multiply(const Level&, const double* x, double* y);
  void add(int i, int entry, double w);
  void add_boundary(int i, double w);
  void cycle(std::size_t level, const double* r, double* z);
  void solve(std::size_t level);

  const Network& net_;
  std::shared_ptr<const Ladder> ladder_;
  std::vector<Level> levels_;
  bool changed_ = true;
  Eigen::LLT<Eigen::MatrixXd> coarsest_;
  Eigen::VectorXd b_;
};

}  // namespace gapfront::flow
