// Connected places that deviate, with their footprint.
#pragma once
#include "conformity/rigid.hpp"

namespace gapfront {

/// `field` is the deviation, or the remainder when `on_remainder`; NaN where not measured.
std::vector<DeviationRegion> find_regions(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, const RigidFit&,
                                          const std::vector<double>& field, bool on_remainder, double min_area);

/// Longest closed curve around the part of the sheet where `level` (linear in the triangles) is positive.
std::vector<Vec3> outline_of(const Mesh&, const std::vector<double>& level);

}  // namespace gapfront
