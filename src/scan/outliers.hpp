// Readings that belong to no surface: single strays, and strays that fly in swarms.
#pragma once
#include <cstdint>
#include <vector>
#include "core/cell_grid.hpp"
#include "gapfront/scan.hpp"

namespace gapfront::scan {

using Flags = std::vector<std::uint8_t>;  // not vector<bool>: threads write neighbouring entries

/// Flags statistical outliers. `fine`: a grid of the points with cells of the noise's reach at least.
Flags find_outliers(const std::vector<Vec3>& points, const cells::Grid& fine, const Sampling&, const CleanOptions&);

}  // namespace gapfront::scan
