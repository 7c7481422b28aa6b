// The greatest change of a place of wear, between the nodes and without bias.
#pragma once
#include <utility>
#include <vector>

#include "history/drift.hpp"

namespace gapfront::history {

struct Peak {
  Vec3 at;
  Weights weights;  ///< the value there of a polynomial fitted to a field around it, as a sum over nodes
};
/// The top of the change, which need not be at a node: by half an edge a small place of wear has lost some per cent.
/// `top` is the node it is sought from, `sign` that of the change, `radius` that of a disc of the place's area, mm.
Peak peak_near(const Sheet&, const Drift&, int top, double sign, double radius);
/// Share of the top by which the polynomial may miss it where the wear has another shape than those it is made for.
constexpr double kTopTruncation = 0.02;

}  // namespace gapfront::history
