// Point spacing and scatter, estimated from the points themselves.
#pragma once
#include "core/cell_grid.hpp"
#include "gapfront/geometry.hpp"

namespace gapfront::scan {

/// The points in cells of about eight, by the extent and two corrections.
cells::Grid crowded_grid(const std::vector<Vec3>& points);

/// √(area / points) about a place, by how far its eight nearest are; over places drawn evenly over the area.
struct Pitch {
  double spacing = 0;  ///< median, mm; more where a fifth of the face is much thinner; 0 for a single point
  double lines = 0;    ///< from line to line where the points stand along lines, mm; 0: they do not
  double crowded = 0;  ///< share of the places that have another point hardly beside them
};
Pitch point_pitch(const std::vector<Vec3>& points, const cells::Grid& grid);

/// Standard deviation of the scatter along the normal, mm: residuals of local quadrics, corrected for their degrees of
/// freedom; median over an evenly drawn sample of places. 0 when there are too few points.
/// `grid` has cells of `noise_reach` at least; points flagged in `left_out` do not count.
double surface_noise(const std::vector<Vec3>& points, const cells::Grid& grid, double spacing,
                     const std::vector<std::uint8_t>* left_out = nullptr);
/// How far around a place its scatter is looked at first, mm.
double noise_reach(double spacing);

}  // namespace gapfront::scan
