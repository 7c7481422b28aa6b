// What was touched by name on both halves.
#pragma once
#include "gapfront/survey.hpp"

namespace gapfront::pipeline {

/// Balls of the same name in both scans as touched targets; or else one plane, one line and one point as a datum
/// system. Nothing changes where the scans name neither three such balls nor these three.
void pair_features(Survey&);

/// How the halves of a survey are closed: by what was touched by name, or by the balls that were found.
AlignOptions closing_options(const Survey&);

}  // namespace gapfront::pipeline
