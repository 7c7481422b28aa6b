// The flange as a method: the upper half set down on the lands.
#pragma once
#include <string>
#include <vector>

#include "align/combine.hpp"
#include "align/lands.hpp"
#include "gapfront/align.hpp"

namespace gapfront::align {

struct FlangeFit {
  PoseEstimate estimate;  ///< speaks of sinking and two tilts only
  Lands lands;            ///< at the rest
  FlangeContact contact;
  double stand_off = 0;
  std::vector<int> carrying;  ///< indices of the places that carry
  bool settled = false;       ///< the upper half came to rest within the most rounds
  Messages warnings;
};

/// `lower` in the tool frame; `upper` in its scan's frame, near the closed position under `first`. Points within
/// `keep_off` of a ball do not count as land. Throws Error{measurement} when the lands do not hold the upper half.
FlangeFit fit_flange(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, const Rigid& first,
                     const AlignOptions&, const std::vector<Vec3>& balls, const std::vector<double>& keep_off);

/// Name of the estimate that only says what the job declares of the location in the lands' plane.
constexpr const char* kDeclaredInPlane = "location in the plane, as declared";

/// What the flange leaves open, as an estimate: location in the lands' plane and turn about its normal, taken from the
/// covariance of another method (or known to `u` mm when that is given).
PoseEstimate in_plane_only(const PoseEstimate& other, const LandFrame&);
PoseEstimate in_plane_known(const Rigid& pose, const LandFrame&, double u);

/// Sliding in the lands' plane changes the gap where the face is steep. Flat to a hundredth of a radian and the slide
/// may be anything a dowel allows: a millimetre of it is then 0.01 mm of gap.
bool steep(const std::vector<Vec3>& lower, const LandFrame&);

/// Clearance of the lands once another pose was chosen, and a warning when they enter each other there.
void look_again(FlangeFit&, const Rigid& upper_to_tool, const Matrix6& covariance, const Vec3& pivot);

}  // namespace gapfront::align
