// Eigen's decompositions: compiled once, as each takes seconds.
#pragma once
#include <Eigen/Eigenvalues>
#include <optional>

#include "gapfront/geometry.hpp"

namespace gapfront {

Matrix6 inverse_of(const Matrix6& m);
Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& m);
/// None where m is singular (LU with full pivoting).
std::optional<Matrix6> inverse_if_any(const Matrix6& m);

/// x with m x = b, for a symmetric m that is not negative (LDLᵀ with pivoting).
Vector6 solve_symmetric(const Matrix6& m, const Vector6& b);
Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& m, const Eigen::VectorXd& b);

/// x of least |a x − b| (Householder QR with column pivoting: also where columns depend on each other).
Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

/// R with R Rᵀ = m, for a symmetric m that is not negative, as covariances are.
Matrix6 root_of(const Matrix6& m);

/// Eigenvalues in rising order and eigenvectors of a symmetric matrix.
Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> spectrum_of(const Eigen::Matrix2d& m);
Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> spectrum_of(const Eigen::Matrix3d& m);
Eigen::SelfAdjointEigenSolver<Matrix6> spectrum_of(const Matrix6& m);
Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> spectrum_of(const Eigen::MatrixXd& m);

/// The shortest rotation that brings one direction to another; both of length 1.
Eigen::Matrix3d rotation_between(const Vec3& from, const Vec3& to);

}  // namespace gapfront
