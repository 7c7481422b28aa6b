// Lines that hand and scissors can follow.
#pragma once
#include "gapfront/geometry.hpp"

namespace gapfront::correct {

/// The line without the corners of the mesh: places at even distances, shifted by turns inwards and outwards (Taubin
/// 1995), which keeps the area of a loop; an open line keeps its ends. Lines too short to have corners stay as they
/// are.
std::vector<Vec3> smooth(const std::vector<Vec3>& line);

}  // namespace gapfront::correct
