// Connected places that deviate, with their footprint.
#pragma once
#include "gapfront/rigid_part.hpp"

namespace gapfront::conformity {

/// `field` is the deviation, or the remainder when `on_remainder`; NaN where not measured.
std::vector<DeviationRegion> find_regions(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, const RigidFit&,
                                          const std::vector<double>& field, bool on_remainder, double min_area);

}  // namespace gapfront::conformity
