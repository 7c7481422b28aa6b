// Several methods, one closed position: information matrices added, and a test of whether they agree.
#pragma once
#include <string>
#include <vector>

#include "gapfront/align.hpp"

namespace gapfront::align {

/// What one method says: a pose of the upper half and how well it knows it.
struct PoseEstimate {
  std::string name;
  Rigid upper_to_tool = Rigid::Identity();
  Matrix6 information = Matrix6::Zero();  ///< about `pivot`, tool frame; singular where the method is silent
  Vec3 pivot = Vec3::Zero();
};

struct Combination {
  Rigid upper_to_tool = Rigid::Identity();
  Matrix6 information = Matrix6::Zero();  ///< about `pivot`
  Vec3 pivot = Vec3::Zero();
  double chi2 = 0, dof = 0;         ///< of the estimates about the combination
  std::vector<double> chi2_of;      ///< each estimate's part of chi2
  std::vector<Vector6> difference;  ///< per estimate: its motion from the combination, only along what it speaks of
};

/// Minimises the sum of squared differences, each in units of its own uncertainty (generalised least squares with
/// linearised rotations; the estimates must lie within a degree of one another). Degrees of freedom: sum of
/// the ranks − rank of the sum.
Combination combine(const std::vector<PoseEstimate>&, const Vec3& pivot);

/// What "given" says: the upper half lies where its scan does.
PoseEstimate given_estimate(const std::vector<Vec3>& lower, const AlignOptions&);

/// Greatest displacement, over the lower half's corners, of a small motion, mm.
double max_move(const std::vector<Vec3>& lower, const Vector6& motion, const Vec3& pivot);

/// Information carried to another pivot.
Matrix6 move_information(const Matrix6&, const Vec3& from, const Vec3& to);

}  // namespace gapfront::align
