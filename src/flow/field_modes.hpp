// A smooth random field by what of it reaches far.
#pragma once
#include <Eigen/Core>
#include <vector>

#include "gapfront/cavity.hpp"

namespace gapfront::flow {

/// The largest principal components over the sheet of a field of unit variance and correlation exp(−r²/2L²), as far as
/// a hundred of its places tell them (on very large sheets they are not quite the largest). Source:
/// Karhunen–Loève expansion, by a pivoted Cholesky factor of the correlation (Harbrecht, Peters & Schneider 2012).
class FieldModes {
 public:
  /// `length`: L, mm, above 0.
  FieldModes(const Sheet&, double length);
  int count() const { return static_cast<int>(at_nodes_.rows()); }
  /// The field with these coefficients of its components, `count` standard normal numbers, in place of its own: the
  /// rest stays. A field of the law keeps it (conditioning by kriging: Matheron 1973).
  void set(std::vector<double>& field, const std::vector<double>& coefficients) const;

 private:
  std::vector<int> pivots_;    // nodes whose values tell a field's coefficients
  Eigen::MatrixXd by_pivots_;  // coefficients × pivots
  Eigen::MatrixXf at_nodes_;   // coefficients × nodes
};

}  // namespace gapfront::flow
