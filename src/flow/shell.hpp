// A thin shell of flat triangles: bending, stretching, and springs along the nodes' normals.
#pragma once
#include <Eigen/SparseCore>
#include <memory>
#include <vector>

#include "gapfront/flow.hpp"

namespace gapfront::flow {

struct ShellSection {
  double plate = 0, membrane = 0, poisson = 0.3;  ///< D Pa·mm³, E·t/(1 − ν²) Pa·mm
};

/// Discrete Kirchhoff triangles for bending (Batoz, Bathe & Ho 1980), constant-strain ones for stretching, six
/// freedoms per node. The nodes move little against the size of the mold: linear.
class Shell {
 public:
  /// `section` per triangle; `held` nodes do not move, and do not turn either if `clamped`.
  Shell(const Mesh&, const std::vector<ShellSection>& section, const std::vector<char>& held, bool clamped);
  ~Shell();
  const std::vector<Vec3>& normals() const { return normals_; }
  const std::vector<double>& areas() const { return areas_; }
  /// Movement along the normals by `pressure` on each node, in balance with a spring (Pa/mm) under each: one linear
  /// solve. Throws Error{Fault::input} where nothing holds the shell.
  std::vector<double> solve(const std::vector<double>& pressure, const std::vector<double>& spring);

 private:
  struct Factor;
  std::vector<Vec3> normals_;
  std::vector<double> areas_;
  std::vector<std::array<int, 6>> dof_;  // place in the system, −1: held
  Eigen::SparseMatrix<double> stiffness_;
  std::unique_ptr<Factor> factor_;
};

}  // namespace gapfront::flow
