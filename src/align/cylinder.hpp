// Cylinders of dowels and their holes.
#pragma once
#include <optional>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::align {

struct CylinderFit {
  Vec3 point = Vec3::Zero();   ///< on the axis, nearest to the points' centroid
  Vec3 axis = Vec3::UnitZ();   ///< unit
  double radius = 0, rms = 0;  ///< mm
  /// Of the axis, for points of unit variance: shift at `point` along both directions across it, turn likewise.
  Eigen::Matrix4d cofactor = Eigen::Matrix4d::Zero();
  /// Covariance of the axis's place `along` it from `point`, for points of unit variance.
  Eigen::Matrix3d cofactor_at(double along) const;
};

/// Least-squares cylinder (orthogonal distances) from a start, by Gauss–Newton; none when the points do not fix it
/// (fewer than 5, all on one line along the axis, or all in one plane across it). `free_radius`: else the start's
/// radius is kept.
std::optional<CylinderFit> fit_cylinder(const std::vector<Vec3>& points, const CylinderFit& start, bool free_radius);

}  // namespace gapfront::align
