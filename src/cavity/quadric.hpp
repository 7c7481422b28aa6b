// Weighted least squares of a quadric, or a plane, over the tangent plane of a neighbourhood.
#pragma once
#include <cmath>
#include "cavity/neighbourhood.hpp"

namespace gapfront::cavity {

/// The six terms 1, u, v, ½u², uv, ½v² times coefficients.
inline Pack polynomial(const Vector6& coefficients, const Pack& u, const Pack& v) {
  const Eigen::Matrix<float, 6, 1> c = coefficients.cast<float>();
  return c(0) + u * (c(1) + (0.5f * c(3)) * u + c(4) * v) + v * (c(2) + (0.5f * c(5)) * v);
}

/// A fit to Scratch's u, v, h with its weights.
struct Quadric {
  Vector6 coefficients = Vector6::Zero();  ///< per unit of the scaled u and v, mm
  Matrix6 inverse = Matrix6::Zero();       ///< of the normal matrix: as many of its columns as were asked for
  bool plane = false;                      ///< the second order is left out
  bool ok = false;
};

/// `weight`: Scratch's own, or that of its inner neighbourhood.
Quadric fit_quadric(const Scratch&, const List& weight, bool plane, int inverse_columns);

/// Robust standard deviation of the residuals: 1.4826 × their median size (normal noise).
double scatter_of(const Quadric&, Scratch&);
/// Weighted sums of the squared residuals and of the weights, and the largest residual.
struct Misfit {
  double squares = 0, weights = 0, most = 0;
  double rms() const { return std::sqrt(squares / weights); }
};
Misfit misfit_of(const Quadric&, const Scratch&);

}  // namespace gapfront::cavity
