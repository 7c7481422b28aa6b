// The beta distribution: tails of F, intervals of a share.
#pragma once

namespace gapfront {

/// Regularised incomplete beta function I_x(p, q): the chance that a beta variable with parameters p, q > 0 is below x.
double beta_fraction(double x, double p, double q);

}  // namespace gapfront
