// Halves on their nominal surfaces.
#pragma once
#include <string>
#include <vector>

#include "align/combine.hpp"
#include "gapfront/align.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::align {

struct NominalPose {
  PoseEstimate estimate;  ///< scan → tool
  NominalFit fit;
  std::vector<Support> supports;  ///< of the half's own scan, about the estimate's pivot
  Messages warnings;
  bool converged = false;  ///< within the most rounds
};

/// The upper half's pose, with the information of both fits: both err.
PoseEstimate upper_against_lower(const NominalPose& lower, const NominalPose& upper);

/// A target's place in the scan and in the tool frame: what tells the poses of a symmetric half apart.
struct KnownPlace {
  Vec3 scan, tool;
};

/// `start`: a pose to begin from; none: searched from any. Throws Error{measurement} when no pose fits, when several
/// fit alike and no target tells them apart, and when the datum regions leave a motion free (named in words).
NominalPose fit_nominal(const std::vector<Vec3>& scan, const Mesh& nominal, bool upper, const Rigid* start,
                        const AlignOptions&, const std::vector<KnownPlace>& known, double noise, const Progress&);

}  // namespace gapfront::align
