// Tip centres of a probe carried onto the face it touched, where the file has no directions.
#include <Eigen/Eigenvalues>
#include <string>

#include "core/parallel.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

/// Direction across the points around p, towards the other half.
Vec3 rough_normal(const Surface& s, const Surface& other, const Vec3& p) {
  // As far as the fits' own first look: some twenty points.
  const auto near = s.within(p, 2.5 * s.spacing());
  Vec3 mean = Vec3::Zero();
  for (int i : near) mean += s.points()[i] / double(near.size());
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (int i : near) scatter += (s.points()[i] - mean) * (s.points()[i] - mean).transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes;
  axes.computeDirect(scatter);
  const Vec3 n = axes.eigenvectors().col(0), across = other.nearest(p).point - p;
  return n.dot(across) < 0 ? Vec3(-n) : n;
}

}  // namespace

std::vector<Vec3> compensate_tip_radius(const Surface& centres, const Surface& other, double radius) {
  std::vector<Vec3> out = centres.points();
  std::vector<char> fitted(out.size(), 0);
  parallel_for(out.size(), [&](std::size_t i) {
    const Vec3 p = out[i];
    const LocalFit fit = fit_local(centres, p, rough_normal(centres, other, p), 0);
    if (!fit.ok) return;
    // The tip's centre is one radius off the face on the cavity's side; the point keeps its own height, so that noise
    // stays as it was read.
    out[i] = p - radius * fit.normal;
    fitted[i] = 1;
  });
  std::vector<Vec3> kept;
  for (std::size_t i = 0; i < out.size(); ++i)
    if (fitted[i]) kept.push_back(out[i]);
  // Half: with fewer, what is left no longer tells of the face.
  if (2 * kept.size() < out.size())
    throw Error(Fault::measurement,
                "the probe's tip cannot be taken off: only " + std::to_string(kept.size()) + " of " +
                    std::to_string(out.size()) +
                    " points have neighbours enough for a normal; give the approach, columns = \"x y z i j k\"");
  return kept;
}

}  // namespace gapfront::cavity
