// What was touched by name with a probe: balls and points as targets, and a datum system of plane, line and point.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "align/combine.hpp"
#include "align/targets.hpp"
#include "gapfront/align.hpp"

namespace gapfront::align {

/// Points of the feature of this name; throws Error{input} that names those there are where there is none.
const ScanFeature& feature_of(const Scan&, const std::string& name, const char* half);

/// Mean of points; there must be one.
Vec3 middle_of(const std::vector<Vec3>&);

/// Squared residuals of fits to touched points, and how many degrees of freedom they have.
struct TouchScatter {
  double squares = 0;
  int dof = 0;
};

/// Variance of a touched point across what it touches, mm²: as declared, or, where the residuals exceed that beyond
/// three standard deviations, as they say (Birge); undeclared, s² ν/(ν − 2) (the variance of Student's t, JCGM
/// 101:2008, 6.4.9.4). Nothing where it is undeclared and ν < 3. `exceeds`: the residuals are larger than what is
/// declared.
std::optional<double> touch_variance(const TouchScatter&, const std::optional<double>& declared,
                                     bool* exceeds = nullptr);

/// The targets that were touched, in one half; the others are empty. Throws Error{input} for a feature that the half
/// has not, Error{measurement} for points that do not say where the centre is.
std::vector<std::optional<Located>> locate_touched(const Scan&, const std::vector<Target>&, const char* half,
                                                   const std::optional<double>& touch_u);

/// A datum system laid on both halves: the plane alone gives Z, the line, seen along Z, X, and the point the origin
/// (ISO 5459:2011: primary, secondary, tertiary). X leaves the point towards the line's middle, Y the line towards the
/// face; so the two halves' systems are one when closed, but for the stand-off along Z, which leads from lower to upper
/// half.
struct DatumPose {
  ScanToTool lower_to_frame;
  Rigid upper_to_frame = Rigid::Identity();
  Matrix6 covariance = Matrix6::Zero();  ///< of the upper half against the lower, about the origin, in the frame
  Messages warnings;
};
/// Throws Error{input} for features that a half has not or that are too few points, Error{measurement} where they leave
/// the frame, or its uncertainty, open.
DatumPose fit_datum(const Scan& lower, const Scan& upper, const AlignOptions&);

}  // namespace gapfront::align
