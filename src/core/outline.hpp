// Iso-contour of a field over a mesh.
#pragma once
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

/// Longest closed curve around the part of the mesh where `level` (linear in the triangles) is positive.
std::vector<Vec3> outline_of(const Mesh&, const std::vector<double>& level);

}  // namespace gapfront
