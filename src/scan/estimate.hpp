// Point spacing and scatter, estimated from the points themselves.
#pragma once
#include "gapfront/geometry.hpp"
#include "scan/grid.hpp"

namespace gapfront {

/// Cell size, mm, at which a cell holds about eight points, by the extent and two corrections.
double crowded_cell(const std::vector<Vec3>& points);

/// Median distance to the nearest other point over an evenly drawn sample, mm; 0 for fewer than two points.
double median_spacing(const std::vector<Vec3>& points, const cells::Grid& grid);

/// Standard deviation of the scatter along the normal, mm: residuals of local quadrics, corrected for their degrees of
/// freedom; median over an evenly drawn sample of places. 0 when there are too few points.
double surface_noise(const std::vector<Vec3>& points, double spacing);

}  // namespace gapfront
