// A face that a program has smoothed, told by what is left of its noise.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// What neighbouring points of a face have in common of their scatter about it, as a share: a correlation. About
/// nothing or a little below where they err independently; `u`: its standard error.
struct AlikeOnFace {
  double share = 0, u = 0;
  int places = 0;         ///< looked at; too few tell nothing
  bool by_bends = false;  ///< they depart so because the face bends more tightly than a quadric does
};
AlikeOnFace alike_on_face(const Sheet&, const GapMap&, const Surface&, NarrowPlace::Half);

/// Where the points of a face depart from it alike, and neither the balls show it nor the job declares it. Smoothing
/// and a texture of the face look the same in the points: both are named, and which one is left to the reader.
Messages smoothed_face_notes(const Measured&);

}  // namespace gapfront::pipeline
