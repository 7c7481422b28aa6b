// A ball that lies off, or a half that is bowed: at the end of a row both look alike.
#pragma once
#include <cstddef>

#include "gapfront/align.hpp"

namespace gapfront::conformity {

/// Whether a bow of one half against the other, along the line from the other targets to this one, explains the
/// targets' misses along the opening axis about as well as this one target being off does.
bool bow_explains(const Alignment&, const TargetResidual& odd, const Vec3& axis);

}  // namespace gapfront::conformity
