// What the residuals of a quadric show beyond noise: a bend that it rounds off.
#pragma once
#include "cavity/quadric.hpp"

namespace gapfront::cavity {

/// A cubic and a quartic along the direction of the stronger curvature, fitted together with the quadric.
struct Pattern {
  bool shown = false;                               ///< the two terms take more of the residuals than chance
  double centre = 0;                                ///< what they add to the value at the centre, mm
  Eigen::Vector2d slope = Eigen::Vector2d::Zero();  ///< and to the slopes there, mm per radius of the neighbourhood
  double spread = 0;                                ///< standard deviation of the residuals that they leave, mm
  /// Variances of the value at the centre and of the slopes (the larger), for points of variance 1.
  double centre2 = 0, slope2 = 0;
};

/// Of the points that `fit` was made of.
Pattern pattern_of(const Quadric& fit, const Misfit&, const Scratch&);

}  // namespace gapfront::cavity
