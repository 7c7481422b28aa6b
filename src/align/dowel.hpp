// Dowels and their holes as targets: the point where the axis crosses the land.
#pragma once
#include <vector>

#include "align/plane.hpp"
#include "gapfront/geometry.hpp"

namespace gapfront::align {

struct DowelFit {
  Vec3 point = Vec3::Zero();                             ///< where the axis crosses the land
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();  ///< of it, mm²
  Vec3 axis = Vec3::UnitZ();
  double diameter = 0, u_diameter = 0, rms = 0;  ///< mm; rms of the distances to the cylinder
  int used = 0;                                  ///< points on the cylinder; 0: none was found
};

/// A dowel or a hole of this diameter, square to the land around it (within 5°), near `rough`: a place on it, or on its
/// axis. Least squares through the points of the cylinder, and through those of the land around it.
DowelFit fit_dowel(const std::vector<Vec3>& points, const Vec3& rough, double diameter, double noise);

/// mm.
struct RadiusRange {
  double min = 0, max = 0;
};

/// The same of any radius in a range, on a land that is known already, of the points around the dowel.
DowelFit fit_dowel_on(const PlaneFit& land, const std::vector<Vec3>& near, const RadiusRange&, double noise);

}  // namespace gapfront::align
