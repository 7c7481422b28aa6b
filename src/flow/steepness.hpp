// How steeply a field rises over a mesh.
#pragma once
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::flow {

/// |∇f| per node: the mean over the triangles around it, by their area, of the field that is linear in each. Triangles
/// with a corner that is not finite do not count; 0 where none is left.
std::vector<double> steepness(const Mesh&, const std::vector<double>& field);

}  // namespace gapfront::flow
