#include "core/linear.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <Eigen/QR>

namespace gapfront {

Matrix6 inverse_of(const Matrix6& m) { return m.inverse(); }
Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& m) { return m.inverse(); }

Vector6 solve_symmetric(const Matrix6& m, const Vector6& b) { return m.ldlt().solve(b); }
Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& m, const Eigen::VectorXd& b) { return m.ldlt().solve(b); }

Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
  return a.colPivHouseholderQr().solve(b);
}

Eigen::SelfAdjointEigenSolver<Matrix6> spectrum_of(const Matrix6& m) {
  return Eigen::SelfAdjointEigenSolver<Matrix6>(m);
}
Matrix6 root_of(const Matrix6& m) {
  const auto axes = spectrum_of(m);
  return axes.eigenvectors() * axes.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
}
Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> spectrum_of(const Eigen::MatrixXd& m) {
  return Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(m);
}

}  // namespace gapfront
