// Holes in the coverage of a surface.
#pragma once
#include "gapfront/scan.hpp"

namespace gapfront::scan {

/// Gaps inside the scanned surface, largest first: places whose every neighbour around is an edge of the coverage.
/// Gaps narrower than five point distances (of the scan, or of its thinning to some 10^5 points) are not told from
/// uneven spacing. Areas are those in the plane of the rim, mm².
std::vector<ScanFacts::Hole> find_holes(const std::vector<Vec3>& points, double spacing);

}  // namespace gapfront::scan
