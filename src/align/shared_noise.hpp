// What the points of a ball have in common beyond the ball: a scanner that smooths errs alike where points are near.
#pragma once
#include <vector>

#include "gapfront/align.hpp"

namespace gapfront::align {

/// Points of one fitted ball of known radius, from its centre, mm.
struct BallPoints {
  std::vector<Vec3> from_centre;
  double radius = 0;
};

/// Variance and length of errors with correlation exp(−d²/2L²), by least squares on the mean products of residuals,
/// binned by the distance d of their points, with what the fit of the centre takes out of them counted. Nil unless it
/// is more than chance makes of independent errors; needs 4 balls.
SharedNoise shared_noise(const std::vector<BallPoints>&);

/// Covariance of a ball's centre by such errors alone, mm²: added to that of independent ones.
Eigen::Matrix3d shared_covariance(const BallPoints&, const SharedNoise&);

}  // namespace gapfront::align
