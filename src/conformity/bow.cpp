#include "conformity/bow.hpp"

#include <algorithm>
#include <cmath>

#include "core/linear.hpp"

namespace gapfront::conformity {
namespace {

// As for two targets (align/target_test.cpp): told apart where one explains the places e^4.5 times better, beside a
// common factor of the u.
constexpr double kToldFrom = 9;
// A ball's seat knows it no better than that, mm.
constexpr double kLeastU = 0.002;

/// Sum of squares, in standard uncertainties, that columns leave of the misses.
double left_by(const Eigen::MatrixXd& columns, const Eigen::VectorXd& miss) {
  return (miss - columns * least_squares(columns, miss)).squaredNorm();
}

}  // namespace

bool bow_explains(const Alignment& a, const TargetResidual& odd, const Vec3& axis) {
  const auto n = static_cast<Eigen::Index>(a.residuals.size());
  if (n < 5) return false;  // three of four fit any bow
  Vec3 others = Vec3::Zero();
  for (const TargetResidual& r : a.residuals)
    if (r.name != odd.name) others += r.place / double(n - 1);
  Vec3 along = odd.place - others;
  along -= along.dot(axis) * axis;
  if (!(along.norm() > 0)) return false;
  along.normalize();
  const Vec3 across = axis.cross(along);
  double size = 1;
  for (const TargetResidual& r : a.residuals) size = std::max(size, (r.place - others).norm());
  // A shift, two tilts; and either the bow or the one target.
  Eigen::MatrixXd bowed(n, 4), off(n, 4);
  Eigen::VectorXd miss(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const TargetResidual& r = a.residuals[std::size_t(i)];
    const double w = 1 / std::max(kLeastU, std::hypot(r.lower_u, r.upper_u));
    const double x = (r.place - others).dot(along) / size, y = (r.place - others).dot(across) / size;
    bowed.row(i) << w, w * x, w * y, w * x * x;
    off.row(i) << w, w * x, w * y, r.name == odd.name ? w : 0.0;
    miss(i) = w * r.residual.dot(axis);
  }
  return left_by(bowed, miss) <= 2 * left_by(off, miss) + kToldFrom;
}

}  // namespace gapfront::conformity
