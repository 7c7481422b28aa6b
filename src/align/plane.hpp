// Planes through points: least squares, and robustly among outliers.
#pragma once
#include <optional>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::align {

struct PlaneFit {
  Vec3 point = Vec3::Zero();    ///< centroid of the points used
  Vec3 normal = Vec3::UnitZ();  ///< unit; sign: positive along the largest coordinate
  double rms = 0;               ///< mm
  int used = 0;
};

/// Total least-squares plane (smallest principal axis of the scatter); fewer than 3 points or a line: none.
std::optional<PlaneFit> fit_plane(const std::vector<Vec3>& points);

/// The plane with most points within `tolerance`, fitted to those by least squares.
std::optional<PlaneFit> find_plane(const std::vector<Vec3>& points, double tolerance);

}  // namespace gapfront::align
