// What a finished fit is worth.
#pragma once
#include "cavity/patch.hpp"
#include "cavity/quadric.hpp"

namespace gapfront::cavity {

/// Points for a full quadric: twice its 6 terms, so that the residuals still say something.
constexpr int kEnoughForQuadric = 12;
/// Points for a plane: twice its 3 terms.
constexpr int kEnoughForPlane = 6;

/// Fills u and u_slope of the patch that `fit` (with three columns of its inverse, and its misfit) made, and clears
/// `ok` where the points do not carry it. Noise: σ times the row of the estimator. Truncation: what the fit of an inner
/// neighbourhood says differently beyond its own noise, not more than the residuals allow, and a share of the quartic
/// correction.
void judge_fit(const Quadric& fit, const Misfit&, const Surface&, Scratch&, Patch&);

}  // namespace gapfront::cavity
