#include "core/linear.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <Eigen/LU>
#include <Eigen/QR>

namespace gapfront {

Matrix6 inverse_of(const Matrix6& m) { return m.inverse(); }
Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& m) { return m.inverse(); }
std::optional<Matrix6> inverse_if_any(const Matrix6& m) {
  const Eigen::FullPivLU<Matrix6> solver(m);
  return solver.isInvertible() ? std::optional<Matrix6>(solver.inverse()) : std::nullopt;
}

Vector6 solve_symmetric(const Matrix6& m, const Vector6& b) { return m.ldlt().solve(b); }
Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& m, const Eigen::VectorXd& b) { return m.ldlt().solve(b); }

Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
  return a.colPivHouseholderQr().solve(b);
}

Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> spectrum_of(const Eigen::Matrix2d& m) {
  return Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>(m);
}
Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> spectrum_of(const Eigen::Matrix3d& m) {
  return Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(m);
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

Eigen::Matrix3d rotation_between(const Vec3& from, const Vec3& to) {
  return Eigen::Quaterniond::FromTwoVectors(from, to).toRotationMatrix();
}

}  // namespace gapfront
