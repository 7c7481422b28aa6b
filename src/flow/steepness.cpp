#include "flow/steepness.hpp"

#include <cmath>

namespace gapfront::flow {

std::vector<double> steepness(const Mesh& mesh, const std::vector<double>& field) {
  const auto& p = mesh.points;
  std::vector<Vec3> gradient(p.size(), Vec3::Zero());
  std::vector<double> weight(p.size(), 0);
  for (const auto& t : mesh.triangles) {
    const Vec3 cross = (p[t[1]] - p[t[0]]).cross(p[t[2]] - p[t[0]]);
    const double twice = cross.norm();
    if (!(twice > 0) || !std::isfinite(field[t[0]] + field[t[1]] + field[t[2]])) continue;
    Vec3 g = Vec3::Zero();
    for (int k = 0; k < 3; ++k) g += field[t[k]] * (cross / twice).cross(p[t[(k + 2) % 3]] - p[t[(k + 1) % 3]]) / twice;
    for (int k : t) gradient[k] += twice * g, weight[k] += twice;
  }
  std::vector<double> out(p.size(), 0);
  for (std::size_t i = 0; i < p.size(); ++i)
    if (weight[i] > 0) out[i] = gradient[i].norm() / weight[i];
  return out;
}

}  // namespace gapfront::flow
