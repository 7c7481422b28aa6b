// Two inspections are compared on one sheet, so one is brought into the other's frame by the targets of the lower half.
#pragma once
#include <utility>
#include <vector>

#include "gapfront/history.hpp"

namespace gapfront::history {

/// No scan finds a place better than to 0.1 µm. Keeps a declared u of nothing from making targets exact, and ratios to
/// u defined on noise-free data; mm.
constexpr double kLeastU = 1e-4;

using Weights = std::vector<std::pair<int, double>>;

/// How far that carrying may be off, and what it does to the gap. Both halves are carried together, so along the
/// normal nothing happens; along the sheet, the gap of the place beside is read, which matters where the gap slopes.
struct FrameTransform {
  Matrix6 covariance = Matrix6::Zero();  ///< of the small motion about `pivot`
  Vec3 pivot = Vec3::Zero();
  int targets = 0;            ///< that carry; 0: fewer than three, the halves' own registration stands in
  std::vector<Vector6> rows;  ///< per node: change of the gap per unit of the motion; 0 where the slope is unknown
  /// Standard uncertainty of a weighted sum of the nodes' gaps by this cause, mm: the motion is common to all.
  double u(const Weights&) const;
};
/// The nodes that a sum h over all of them is made of.
Weights by_node(const std::vector<double>& h);
/// The targets' errors at either date count, those of a third date that both were carried onto do not.
FrameTransform frame_transform(const Sheet&, const Record& now, const Record& then);

}  // namespace gapfront::history
