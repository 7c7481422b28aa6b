#include "align/cylinder.hpp"

#include <algorithm>
#include <cmath>

#include "core/linear.hpp"

namespace gapfront::align {

Eigen::Matrix3d CylinderFit::cofactor_at(double along) const {
  const Vec3 e1 = axis.unitOrthogonal(), e2 = axis.cross(e1);
  Eigen::Matrix<double, 3, 4> j;
  j << e1, e2, along * e1, along * e2;
  return j * cofactor * j.transpose();
}

std::optional<CylinderFit> fit_cylinder(const std::vector<Vec3>& points, const CylinderFit& start, bool free_radius) {
  if (points.size() < 5) return {};
  CylinderFit fit = start;
  fit.axis.normalize();
  Vec3 centre = Vec3::Zero();
  for (const Vec3& p : points) centre += p / points.size();
  double lever = 0;
  for (const Vec3& p : points) lever = std::max(lever, std::abs(fit.axis.dot(p - centre)));
  if (lever <= 0) return {};
  const int unknowns = free_radius ? 5 : 4;
  for (int round = 0; round < 100; ++round) {
    const Vec3 e1 = fit.axis.unitOrthogonal(), e2 = fit.axis.cross(e1);
    fit.point += fit.axis * fit.axis.dot(centre - fit.point);
    Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Zero();
    Eigen::Matrix<double, 5, 1> rhs = Eigen::Matrix<double, 5, 1>::Zero();
    double square = 0;
    for (const Vec3& p : points) {
      const Vec3 d = p - fit.point;
      const double along = fit.axis.dot(d);
      const Vec3 out = d - along * fit.axis;
      const double r = out.norm();
      if (r == 0) continue;
      const Vec3 n = out / r;
      // Moving the axis by a, and tilting it by b per unit length, changes the distance by −n·a − (along)·n·b.
      Eigen::Matrix<double, 5, 1> g;
      g << n.dot(e1), n.dot(e2), along / lever * n.dot(e1), along / lever * n.dot(e2), 1;
      normal += g * g.transpose();
      rhs += g * (r - fit.radius);
      square += (r - fit.radius) * (r - fit.radius);
    }
    fit.rms = std::sqrt(square / points.size());
    const Eigen::MatrixXd a = normal.topLeftCorner(unknowns, unknowns);
    const auto spectrum = spectrum_of(a);
    if (spectrum.eigenvalues()(0) < 1e-10 * spectrum.eigenvalues()(unknowns - 1)) return {};
    const Eigen::VectorXd step = solve_symmetric(a, rhs.head(unknowns));
    fit.point += step(0) * e1 + step(1) * e2;
    fit.axis = (fit.axis + (step(2) * e1 + step(3) * e2) / lever).normalized();
    if (free_radius) fit.radius += step(4);
    if (step.norm() < 1e-13 * (fit.radius + centre.norm() + lever)) {
      fit.cofactor = inverse_of(a).topLeftCorner<4, 4>();
      fit.cofactor.bottomRows<2>() /= lever, fit.cofactor.rightCols<2>() /= lever;
      fit.point += fit.axis * fit.axis.dot(centre - fit.point);
      return fit;
    }
  }
  return {};
}

}  // namespace gapfront::align
