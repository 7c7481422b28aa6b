#include "cavity/quadric.hpp"
#include <algorithm>
#include <cmath>

#include "core/statistics.hpp"

namespace gapfront::cavity {

namespace {

/// Cholesky factor of the leading n × n part in its lower triangle, with the reciprocals of its diagonal (division is
/// the slow part); false when it is not positive.
/// Plain loops of known length: the general routines take longer to start than a 6 × 6 matrix takes to factor.
template <int n>
bool factor(Matrix6& m) {
  for (int j = 0; j < n; ++j) {
    double d = m(j, j);
    for (int k = 0; k < j; ++k) d -= m(j, k) * m(j, k);
    // Relative to the diagonal it came from: what is left below rounding is no pivot.
    if (!(d > 1e-14 * m(j, j))) return false;
    m(j, j) = 1 / std::sqrt(d);
    for (int i = j + 1; i < n; ++i) {
      double e = m(i, j);
      for (int k = 0; k < j; ++k) e -= m(i, k) * m(j, k);
      m(i, j) = e * m(j, j);
    }
  }
  return true;
}

template <int n>
void solve(const Matrix6& l, Vector6& b) {
  for (int i = 0; i < n; ++i) {
    for (int k = 0; k < i; ++k) b(i) -= l(i, k) * b(k);
    b(i) *= l(i, i);
  }
  for (int i = n - 1; i >= 0; --i) {
    for (int k = i + 1; k < n; ++k) b(i) -= l(k, i) * b(k);
    b(i) *= l(i, i);
  }
}

template <int n>
void solve_all(Matrix6& m, int inverse_columns, Quadric& q) {
  if (!factor<n>(m)) return;
  q.coefficients.tail<6 - n>().setZero();
  solve<n>(m, q.coefficients);
  q.ok = q.coefficients.allFinite();
  for (int k = 0; k < inverse_columns; ++k) {
    Vector6 e = Vector6::Unit(k);
    solve<n>(m, e);
    q.inverse.col(k) = e;
  }
}

}  // namespace

Quadric fit_quadric(const Scratch& s, const List& weight, bool plane, int inverse_columns) {
  // Sums of weighted monomials u^i v^j up to the fourth order, and of the heights with those up to the second. In two
  // rounds, each with as many sums as a processor has places for.
  const Pack none = Pack::Zero();
  Pack m00 = none, m10 = none, m01 = none, m20 = none, m11 = none, m02 = none, m30 = none, m21 = none, m12 = none,
       m03 = none, m40 = none, m31 = none, m22 = none, m13 = none, m04 = none, b00 = none, b10 = none, b01 = none,
       b20 = none, b11 = none, b02 = none;
  for (Eigen::Index i = 0; i < s.used; i += 4) {
    const Pack u = pack(s.u, i), v = pack(s.v, i), w = pack(weight, i), wu = w * u, wv = w * v, wh = w * pack(s.h, i);
    m00 += w, m10 += wu, m01 += wv;
    b00 += wh, b10 += wh * u, b01 += wh * v;
    b20 += wh * u * u, b11 += wh * u * v, b02 += wh * v * v;
  }
  for (Eigen::Index i = 0; i < s.used; i += 4) {
    const Pack u = pack(s.u, i), v = pack(s.v, i), w = pack(weight, i);
    const Pack wuu = w * u * u, wuv = w * u * v, wvv = w * v * v;
    m20 += wuu, m11 += wuv, m02 += wvv;
    const Pack uuu = wuu * u, uuv = wuu * v, uvv = wvv * u, vvv = wvv * v;
    m30 += uuu, m21 += uuv, m12 += uvv, m03 += vvv;
    m40 += uuu * u, m31 += uuv * u, m22 += uvv * u, m13 += uvv * v, m04 += vvv * v;
  }
  Matrix6 m = Matrix6::Zero();
  const double s20 = sum(m20), s11 = sum(m11), s02 = sum(m02), s21 = sum(m21), s12 = sum(m12), s22 = sum(m22);
  m.row(0).head<1>() << sum(m00);
  m.row(1).head<2>() << sum(m10), s20;
  m.row(2).head<3>() << sum(m01), s11, s02;
  m.row(3).head<4>() << 0.5 * s20, 0.5 * sum(m30), 0.5 * s21, 0.25 * sum(m40);
  m.row(4).head<5>() << s11, s21, s12, 0.5 * sum(m31), s22;
  m.row(5) << 0.5 * s02, 0.5 * s12, 0.5 * sum(m03), 0.25 * s22, 0.5 * sum(m13), 0.25 * sum(m04);
  Quadric q;
  q.plane = plane;
  q.coefficients << sum(b00), sum(b10), sum(b01), 0.5 * sum(b20), sum(b11), 0.5 * sum(b02);
  if (plane)
    solve_all<3>(m, inverse_columns, q);
  else
    solve_all<6>(m, inverse_columns, q);
  return q;
}

double scatter_of(const Quadric& q, Scratch& s) {
  if (s.used == 0) return 0;
  for (Eigen::Index i = 0; i < s.used; i += 4)
    pack(s.residual, i) = (pack(s.h, i) - polynomial(q.coefficients, pack(s.u, i), pack(s.v, i))).abs();
  float* first = s.residual.data();
  return kMadToSigma * double(median_in_place(first, first + s.used));
}

Misfit misfit_of(const Quadric& q, const Scratch& s) {
  Pack squares = Pack::Zero(), weights = squares, most = squares;
  for (Eigen::Index i = 0; i < s.used; i += 4) {
    const Pack w = pack(s.weight, i);
    const Pack e = pack(s.h, i) - polynomial(q.coefficients, pack(s.u, i), pack(s.v, i));
    squares += w * e * e, weights += w, most = most.max(e.abs() * above(w));
  }
  return {sum(squares), sum(weights), double(most.maxCoeff())};
}

}  // namespace gapfront::cavity
