// What the fits read of a surface in their inner loops.
#pragma once
#include <array>
#include <cstddef>
#include <vector>

#include "gapfront/cavity.hpp"

namespace gapfront {

struct SurfaceReader {
  /// The points themselves within `radius` of p, relative to p, in no particular order, as lists of coordinates that
  /// are re-used; returns how many. Single precision: of 5 mm it keeps half a nanometre, and it halves a fit's work.
  static std::size_t offsets_within(const Surface&, const Vec3& p, double radius,
                                    std::array<std::vector<float>, 3>& xyz);
};

}  // namespace gapfront
