#include "align/supports.hpp"

#include <cmath>

namespace gapfront::align {

double covariance_between(const std::vector<SharedNoise>& fields, const Vec3& a, const Vec3& b) {
  double sum = 0;
  for (const SharedNoise& f : fields)
    sum += f.sigma * f.sigma * std::exp(-0.5 * (a - b).squaredNorm() / (f.length * f.length));
  return sum;
}

Answer answer_to_fields(const std::vector<Support>& supports, const std::vector<SharedNoise>& fields) {
  Answer out;
  for (const Support& a : supports) {
    Eigen::Matrix<double, 3, 6> with = Eigen::Matrix<double, 3, 6>::Zero();
    for (const Support& b : supports) with += covariance_between(fields, a.at, b.at) * b.response.transpose();
    out.pose += a.response * with;
    out.with_places.push_back(with);
  }
  return out;
}

}  // namespace gapfront::align
