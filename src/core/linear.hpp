// Eigen's decompositions of six motions' matrices, and of matrices whose size is known only at run time: compiled once,
// as each takes seconds.
#pragma once
#include <Eigen/Eigenvalues>

#include "gapfront/geometry.hpp"

namespace gapfront {

Matrix6 inverse_of(const Matrix6& m);
Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& m);

/// x with m x = b, for a symmetric m that is not negative (LDLᵀ with pivoting).
Vector6 solve_symmetric(const Matrix6& m, const Vector6& b);
Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& m, const Eigen::VectorXd& b);

/// x of least |a x − b| (Householder QR with column pivoting: also where columns depend on each other).
Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

/// R with R Rᵀ = m, for a symmetric m that is not negative, as covariances are.
Matrix6 root_of(const Matrix6& m);

/// Eigenvalues in rising order and eigenvectors of a symmetric matrix.
Eigen::SelfAdjointEigenSolver<Matrix6> spectrum_of(const Matrix6& m);
Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> spectrum_of(const Eigen::MatrixXd& m);

}  // namespace gapfront
