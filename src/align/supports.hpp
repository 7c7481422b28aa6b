// What errors that change along a scan do to a pose, by the places that it rests on.
#pragma once
#include <vector>

#include "gapfront/pose.hpp"

namespace gapfront::align {

/// Of one coordinate of the fields' displacements at two places, mm².
double covariance_between(const std::vector<SharedNoise>& fields, const Vec3& a, const Vec3& b);

struct Answer {
  std::vector<Eigen::Matrix<double, 3, 6>> with_places;  ///< covariance of a support's displacement with the pose
  Matrix6 pose = Matrix6::Zero();                        ///< covariance of the pose
};
Answer answer_to_fields(const std::vector<Support>&, const std::vector<SharedNoise>& fields);

}  // namespace gapfront::align
