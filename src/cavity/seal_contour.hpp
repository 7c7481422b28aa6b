// The closed line around the largest part of a grid where a field is positive.
#pragma once
#include <vector>
#include "cavity/seal_plane.hpp"

namespace gapfront::cavity {

struct PlanPoint {
  double u, v;
};

struct PlanContour {
  std::vector<PlanPoint> line;  ///< closed, counter-clockwise; empty: there is none
  std::vector<char> inside;     ///< per node: 1 in the part that it goes around
};
/// Zero line around the part with the most nodes, by marching squares; its holes are filled. Where `outside` is set the
/// field counts as negative. No line when the part has fewer than `minimum` nodes.
PlanContour largest_part(const PlanGrid&, const std::vector<double>& field, const std::vector<char>& outside,
                         int minimum);

/// Corners that are within `tolerance` of a straight line between others left out (Douglas & Peucker 1973).
std::vector<PlanPoint> simplified(const std::vector<PlanPoint>& closed, double tolerance);
/// No two sides cross.
bool simple_polygon(const std::vector<PlanPoint>& closed);
/// mm²; positive: counter-clockwise.
double polygon_area(const std::vector<PlanPoint>& closed);

}  // namespace gapfront::cavity
