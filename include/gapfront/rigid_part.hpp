// Sensitivities of the rigid part, shared with the regions that are cut from the remainder.
#pragma once
#include "gapfront/conformity.hpp"

namespace gapfront {

/// Of three numbers by six parameters.
using Matrix36 = Eigen::Matrix<double, 3, 6>;

/// How the fitted (offset, tilt 1, tilt 2) answers to errors of the map, and the frame it is written in.
struct RigidFit {
  RigidPart part;
  Vec3 e1 = Vec3::UnitX(), e2 = Vec3::UnitY();  ///< tilt axes
  std::vector<double> weight;                   ///< area × robustness, 0 where not used
  Eigen::Matrix3d inverse = Eigen::Matrix3d::Zero();
  Eigen::Matrix3d by_fits = Eigen::Matrix3d::Zero();      ///< covariance of the parameters by the fits' noise
  Matrix36 by_registration = Matrix36::Zero();            ///< answer to the upper half's motion about the map's pivot
  Vec3 by_common = Vec3::Zero();                          ///< answer to one constant error of the gap
  Vec3 row(const Sheet&, const GapMap&, int node) const;  ///< change of the gap per unit of each parameter
  /// Σ h·remainder as a sum over the nodes' gaps: what the fitted motion takes along is in it (weights held).
  std::vector<double> on_remainder(const Sheet&, const GapMap&, std::vector<double> h) const;
};

namespace conformity {
/// The fit with all that it was solved from.
RigidFit solve_rigid(const Sheet&, const GapMap&, const std::vector<double>& deviation);
}  // namespace conformity

}  // namespace gapfront
