#include "cavity/pattern.hpp"
#include <Eigen/Cholesky>

#include "core/linear.hpp"

namespace gapfront::cavity {

namespace {

/// The six terms of a quadric and two along a bend.
constexpr int kTerms = 8;
using Terms = Eigen::Matrix<double, kTerms, 1>;
/// F of two terms that chance exceeds in one of some 300 fits of thirty points (closed form for two terms:
/// (1 + 2F/ν)^(−ν/2), ν = 22).
constexpr double kNoChance = 7.6;

/// Direction across the bend: that of the larger second derivative.
Eigen::Vector2d across_bend(const Vector6& c) {
  Eigen::Matrix2d second;
  second << c(3), c(4), c(4), c(5);
  const auto of = spectrum_of(second);
  return of.eigenvectors().col(std::abs(of.eigenvalues()(0)) > std::abs(of.eigenvalues()(1)) ? 0 : 1);
}

}  // namespace

Pattern pattern_of(const Quadric& fit, const Misfit& misfit, const Scratch& s) {
  Pattern p;
  const double dof = double(s.used) - kTerms;
  if (fit.plane || dof < kTerms) return p;
  const Eigen::Vector2d across = across_bend(fit.coefficients);
  Eigen::Matrix<double, kTerms, kTerms> gram = gram.Zero(), twice = gram;
  Terms rest = Terms::Zero();
  for (std::size_t i = 0; i < std::size_t(s.used); ++i) {
    const double u = s.u[i], v = s.v[i], w = s.weight[i], t = across.x() * u + across.y() * v;
    Terms a;
    a << 1, u, v, 0.5 * u * u, u * v, 0.5 * v * v, t * t * t, t * t * t * t;
    gram.selfadjointView<Eigen::Lower>().rankUpdate(a, w);
    twice.selfadjointView<Eigen::Lower>().rankUpdate(a, w * w);
    rest += w * (s.h[i] - fit.coefficients.dot(a.head<6>())) * a;
  }
  const Eigen::LDLT<decltype(gram)> factored(gram.selfadjointView<Eigen::Lower>());
  const Terms more = factored.solve(rest);
  if (factored.info() != Eigen::Success || !more.allFinite()) return p;
  const double taken = more.dot(rest), left = std::max(misfit.squares - taken, 1e-12 * misfit.squares);
  p.shown = taken / 2 > kNoChance * left / dof;
  p.centre = more(0), p.slope = more.segment<2>(1);
  p.spread = std::sqrt(left / misfit.weights * double(s.used) / dof);
  const Eigen::Matrix<double, kTerms, 3> rows = factored.solve(Eigen::Matrix<double, kTerms, 3>::Identity());
  const Eigen::Matrix3d variance = rows.transpose() * (twice.selfadjointView<Eigen::Lower>() * rows);
  p.centre2 = variance(0, 0), p.slope2 = std::max(variance(1, 1), variance(2, 2));
  return p;
}

}  // namespace gapfront::cavity
