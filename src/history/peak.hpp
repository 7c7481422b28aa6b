// The greatest change of a place of wear, between the nodes.
#pragma once
#include <utility>
#include <vector>

#include "history/drift.hpp"

namespace gapfront::history {

struct Peak {
  Vec3 at;
  Weights weights;        ///< the value there, by the shapes that the field around it allows, as a sum over nodes
  double between = 0;     ///< standard uncertainty by these shapes, mm
  double truncation = 0;  ///< share of the top by which all of them may miss it
  /// Standard uncertainty by the shape of the wear, as a share of the top.
  double u_shape(double top) const;
};
/// Where it is sought.
struct PeakPlace {
  int top = -1;           ///< node it is sought from
  double sign = 1;        ///< of the change
  double radius = 0;      ///< of a disc of the place's area, mm
  std::size_t nodes = 0;  ///< of the place
  double inflation = 1;   ///< of the fits' noise
};
/// The top of the change, which need not be at a node: by half an edge a small place of wear has lost some per cent. A
/// dome, a plateau and a cone are compared by what they leave of the field around it, over several reaches, and count
/// by their likelihood; where the field does not tell them apart, the uncertainty holds what they differ by.
Peak peak_near(const Sheet&, const Drift&, const PeakPlace&);

}  // namespace gapfront::history
