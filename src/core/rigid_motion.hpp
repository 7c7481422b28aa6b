// Rigid motions with full covariances: small motions about a pivot, x' = x + t + r × (x − pivot).
#pragma once
#include <string>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

/// The motion x' = x + t + r × (x − pivot), with the rotation taken exactly.
Rigid small_motion(const Vector6& tr, const Vec3& pivot);
/// The other way round: (t, r) of a motion that is small about `pivot`.
Vector6 motion_about(const Rigid& motion, const Vec3& pivot);
/// d(x')/d(t, r): identity and −[x − pivot]×.
Eigen::Matrix<double, 3, 6> motion_jacobian(const Vec3& x, const Vec3& pivot);
/// A covariance about one pivot carried to another.
Matrix6 move_pivot(const Matrix6& covariance, const Vec3& from, const Vec3& to);

/// A place in two frames, each with its covariance.
struct Pair {
  Vec3 from, to;
  Eigen::Matrix3d from_cov, to_cov;
};

struct PairFit {
  Rigid motion = Rigid::Identity();       ///< carries `from` onto `to`
  Matrix6 information = Matrix6::Zero();  ///< about `pivot`, in the frame of `to`
  Vec3 pivot = Vec3::Zero();              ///< centroid of the places in the frame of `to`
  double chi2 = 0;                        ///< of the residuals, 3n − 6 degrees of freedom
  bool converged = false;                 ///< within the most rounds
};
/// Generalised least squares over SE(3): start from the SVD fit, then Gauss–Newton with full 3×3 covariances.
PairFit fit_pairs(const std::vector<Pair>&);

struct ScaleFit {
  double scale = 0, u = 0;  ///< from over to, less 1, and its standard uncertainty
  double chi2 = 0;          ///< of the residuals that a scale would leave, 3n − 7 degrees of freedom
};
/// What the scale would be if the pairs were let scale as well; `fit` stays as it is.
ScaleFit apparent_scale(const std::vector<Pair>&, const PairFit& fit);

}  // namespace gapfront
