// How far each half is off its nominal surface.
#pragma once
#include <optional>

#include "gapfront/correct.hpp"

namespace gapfront::correct {

/// Mean over nodes, mm; positive: material stands proud into the cavity.
struct FaceErrors {
  double lower = 0, upper = 0;
};
/// Nothing when a nominal surface is not known for both halves, or does not lie within `CorrectInput`'s gap of them.
std::optional<FaceErrors> face_errors(const CorrectInput&, const std::vector<int>& nodes);

}  // namespace gapfront::correct
