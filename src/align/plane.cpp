#include "align/plane.hpp"

#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <random>

namespace gapfront::align {
namespace {

/// Singular vectors of the centred points rather than eigenvectors of their products: full precision in the normal.
Vec3 thinnest_axis(const std::vector<Vec3>& points, const Vec3& centre, Vec3& extent) {
  // The triangle of their QR decomposition, a point at a time, each entry rotated into it (Givens).
  Eigen::Matrix3d r = Eigen::Matrix3d::Zero();
  for (const Vec3& p : points) {
    Vec3 row = p - centre;
    for (int k = 0; k < 3; ++k) {
      const double length = std::sqrt(r(k, k) * r(k, k) + row(k) * row(k));
      if (length == 0) continue;
      const double c = r(k, k) / length, s = row(k) / length;
      const Vec3 held = r.row(k).transpose();
      r.row(k) = (c * held + s * row).transpose();
      row = c * row - s * held;
    }
  }
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(r, Eigen::ComputeFullU | Eigen::ComputeFullV);
  extent = (r * svd.matrixV()).colwise().norm().transpose();
  return svd.matrixV().col(2);
}

}  // namespace

std::optional<PlaneFit> fit_plane(const std::vector<Vec3>& points) {
  if (points.size() < 3) return {};
  PlaneFit fit;
  for (const Vec3& p : points) fit.point += p;
  fit.point /= points.size();
  Vec3 extent;
  fit.normal = thinnest_axis(points, fit.point, extent);
  if (extent(1) <= 1e-9 * extent(0)) return {};
  int largest;
  fit.normal.cwiseAbs().maxCoeff(&largest);
  if (fit.normal(largest) < 0) fit.normal = -fit.normal;
  double sum = 0;
  for (const Vec3& p : points) sum += std::pow(fit.normal.dot(p - fit.point), 2);
  fit.rms = std::sqrt(sum / points.size());
  fit.used = static_cast<int>(points.size());
  return fit;
}

std::optional<PlaneFit> find_plane(const std::vector<Vec3>& points, double tolerance) {
  if (points.size() < 3) return {};
  std::mt19937 random(7);  // any fixed seed: the same points give the same plane
  const auto draw = [&]() -> const Vec3& { return points[random() % points.size()]; };
  const auto within = [&](const Vec3& at, const Vec3& n) {
    std::vector<Vec3> in;
    for (const Vec3& p : points)
      if (std::abs(n.dot(p - at)) <= tolerance) in.push_back(p);
    return in;
  };
  // A plane that matters here holds at least half of the points, so 100 draws miss it with a chance below 2e-6.
  std::vector<Vec3> best;
  for (int k = 0; k < 100; ++k) {
    const Vec3 &a = draw(), &b = draw(), &c = draw();
    const Vec3 n = (b - a).cross(c - a);
    if (n.norm() <= tolerance * tolerance) continue;
    if (auto in = within(a, n.normalized()); in.size() > best.size()) best.swap(in);
  }
  for (int round = 0; round < 3; ++round) {
    const auto fit = fit_plane(best);
    if (!fit) return {};
    best = within(fit->point, fit->normal);
  }
  return fit_plane(best);
}

}  // namespace gapfront::align
