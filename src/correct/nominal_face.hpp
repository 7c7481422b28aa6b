// How far each half is off its nominal surface.
#pragma once
#include <optional>

#include "gapfront/correct.hpp"

namespace gapfront::correct {

/// Mean over nodes, mm; positive: material stands proud into the cavity.
struct FaceErrors {
  double lower = 0, upper = 0;
};
/// Nothing when the nominal surface of a half is not known, or meets no line across the gap at these nodes within a gap
/// and a nominal thickness.
std::optional<FaceErrors> face_errors(const CorrectInput&, const std::vector<int>& nodes);

}  // namespace gapfront::correct
