// A ball of another diameter than the job says.
#pragma once
#include <optional>
#include <vector>

#include "gapfront/align.hpp"

namespace gapfront::align {

/// A ball whose diameter is measured.
struct MeasuredBall {
  SphereFit fit;     ///< its radius is free
  double u = 0;      ///< standard uncertainty of the diameter by the scatter of its points, mm
  double lean = 0;   ///< by which the centre moves for a mm of the radius
  double share = 1;  ///< of the points around the cap, of those on the ball
};

std::vector<Vec3> points_within(const std::vector<Vec3>& points, const Vec3& at, double reach);

/// The ball about a centre that is known roughly, of about this radius; nothing where the points show none, or one that
/// is off either by more than half of the radius.
std::optional<MeasuredBall> measure_ball(const std::vector<Vec3>& points, const Vec3& centre, double radius,
                                         double noise);

/// The ball at a place of the job, where it is of half to twice the job's diameter and shows beyond doubt: half of a
/// hemisphere, and most of the points about it lie on it.
std::optional<MeasuredBall> other_ball(const std::vector<Vec3>& points, const Vec3& place, double diameter,
                                       double noise);

/// A fit with the job's diameter sees points within so many radii of the ball's centre.
constexpr double kSeenOf = 2.3;
/// Of a ball of another size than this, as a share of the radius, the job means another thing.
constexpr double kMostOff = 0.3;
/// Of the points that stand around the cap of a ball, half at least lie on it; on a clean one all but the strays do.
constexpr double kLeastShare = 0.5;

}  // namespace gapfront::align
