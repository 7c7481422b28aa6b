// A scan's face in overlapping discs, each with the jump that it would have across any line.
#pragma once
#include <array>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::scan {

/// Directions of lines in the plan, and their shifts off a disc's middle, that each disc is tried with. Sixteen: half a
/// step turns the middle of half a disc by a twentieth of its radius. A line that is off by a tenth of the radius shows
/// half of a jump, so that shifts are as fine as that.
constexpr int kDirections = 16, kShifts = 9, kMiddle = kShifts / 2;
constexpr double kShift = 0.1;  // of the radius

/// By least squares beside a quadric: pull / weight, of variance scatter² / weight.
struct Jump {
  float pull = 0, weight = 0;
};

/// A quadric over the tangent plane of a round piece of the face.
struct Disc {
  Vec3 at;
  double scatter = 0;  ///< of the residuals beside the strongest jump, mm
  std::array<Jump, kDirections * kShifts> jumps;
};

/// A scan's points in their principal axes, the third across the face; means over cells where they are many.
struct PlanPoints {
  std::vector<Vec3> at;
  std::vector<float> count;  ///< points of each mean
  Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();
  Vec3 mean = Vec3::Zero();
  double spacing = 0, size = 0;
};
PlanPoints in_plan(const std::vector<Vec3>& points, double spacing);

/// Discs of one radius over all of the face that is smooth: not those with a corner, an edge or a wall in them.
struct DiscLevel {
  double radius = 0, scatter = 0;  ///< scatter: the median
  std::vector<Disc> discs;
};
/// `most`: at so many places at most, spread over the face.
DiscLevel look_in_discs(const std::vector<Vec3>& points, double radius, std::size_t most = std::size_t(-1));

}  // namespace gapfront::scan
