// A Gaussian field on the sheet, with unit variance at every node: Matérn covariance of order 1 by finite elements.
#pragma once
#include <Eigen/Core>
#include <Eigen/SparseCore>
#include "gapfront/sheet.hpp"

namespace gapfront::cavity {

/// Mass (a third of each triangle's area per corner) and stiffness of linear elements on a sheet.
struct Elements {
  Eigen::VectorXd mass;
  Eigen::SparseMatrix<double> stiffness;
};
Elements elements_of(const Mesh&);

/// Correlations of the field at each node with it at the places whose weights over the nodes are the rows of `places`.
/// `length`: where the correlation has fallen to 0.14, mm. The variance is made the same up to the rim, where the
/// equation by itself would double it.
Eigen::MatrixXd field_correlations(const Elements&, const Eigen::SparseMatrix<double, Eigen::RowMajor>& places,
                                   double length);

/// The diagonal of the inverse of a sparse, symmetric, positive definite matrix (K. Takahashi, J. Fagan, M. Chin 1973):
/// only those entries of the inverse are made where the factor has some.
Eigen::VectorXd diagonal_of_inverse(const Eigen::SparseMatrix<double>&);

}  // namespace gapfront::cavity
