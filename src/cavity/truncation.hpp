// What the fits leave out, judged from many of them together.
#pragma once
#include <limits>
#include <vector>
#include "cavity/patch.hpp"

namespace gapfront::cavity {

/// A node's share in it: how far its gap moves with either fit, and what either fit showed.
struct Witness {
  double by_lower = 0, by_upper = 0, by_slope = 0;  ///< the slope is the lower fit's
  Truncation lower, upper, slope;
  double reach = 0;  ///< radius of the larger fit, mm
  /// Of the points about the fits, mm; no number where too few of them tell it.
  double scatter_lower = std::numeric_limits<double>::quiet_NaN(), scatter_upper = scatter_lower;
  bool unresolved = false;  ///< no gap, and the reason is that the fits do not resolve the face
};

/// A single fit tells a truncation from its noise only when it is twice the noise; a smaller one, the same all around,
/// would be missed at every node. Here its mean square τ² is taken over the neighbourhood on the sheet, where noise
/// averages out, and the node's own part of u becomes E[t² | its own difference] for t ~ N(0, τ²), or what its own
/// difference proves alone where that is more.
void pool_truncation(const Sheet&, const std::vector<Witness>&, GapMap&);

}  // namespace gapfront::cavity
