#include "report/setup_points.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <utility>

#include "core/parallel.hpp"
#include "gapfront/cavity.hpp"

namespace gapfront::report {
namespace {

/// The bits of x with two zeros between: three of them side by side make a Morton code.
std::uint64_t spread(std::uint64_t x) {
  x &= 0x1fffff;
  x = (x | x << 32) & 0x1f00000000ffff;
  x = (x | x << 16) & 0x1f0000ff0000ff;
  x = (x | x << 8) & 0x100f00f00f00f00f;
  x = (x | x << 4) & 0x10c30c30c30c30c3;
  return (x | x << 2) & 0x1249249249249249;
}

/// The first point of each cell, in Morton order, so that neighbours follow each other and pack well.
std::vector<std::size_t> one_per_cell(const std::vector<Vec3>& points, const Vec3& low, double cell) {
  std::vector<std::pair<std::uint64_t, std::size_t>> order(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vec3 c = (points[i] - low) / cell;
    order[i] = {spread(std::uint64_t(c.x())) | spread(std::uint64_t(c.y())) << 1 | spread(std::uint64_t(c.z())) << 2,
                i};
  }
  std::sort(order.begin(), order.end());
  std::vector<std::size_t> out;
  for (std::size_t k = 0; k < order.size(); ++k)
    if (k == 0 || order[k].first != order[k - 1].first) out.push_back(order[k].second);
  return out;
}

struct Shape {
  Vec3f normal = Vec3f::UnitZ();
  bool edge = false;
};

// Share of the scatter across the surface in all of it, of a disc of points. Two planes that meet at 35° give 0.01 when
// the disc lies half on each; noise of a tenth of the radius gives as much.
constexpr float kBent = 0.01f;
// Of the disc's radius, from its centre to its points' mean: 0.42 on a straight end, 0 within a face.
constexpr double kAtEnd = 0.28;

Shape shape_at(const Surface& s, const Vec3& p, double radius, std::vector<int>& near) {
  s.within(p, radius, near);
  Shape out;
  if (near.size() < 4) return out;
  Vec3 mean = Vec3::Zero();
  std::sort(near.begin(), near.end());  // sums in one order, whatever the search
  for (const int i : near) mean += s.points()[i];
  mean /= double(near.size());
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const int i : near) scatter += (s.points()[i] - mean) * (s.points()[i] - mean).transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes;
  axes.computeDirect(scatter);
  out.normal = axes.eigenvectors().col(0).cast<float>();
  out.edge = axes.eigenvalues()[0] > kBent * axes.eigenvalues().sum() || (mean - p).norm() > kAtEnd * radius;
  return out;
}

}  // namespace

ShownPoints shown_points(const std::vector<Vec3>& points, double spacing, std::size_t most) {
  Vec3 low = points.front();
  for (const Vec3& p : points) low = low.cwiseMin(p);
  double cell = spacing / 4;  // finer than the scan: every point has a cell of its own
  if (points.size() > most) cell = spacing * std::sqrt(double(points.size()) / double(most));
  std::vector<std::size_t> kept = one_per_cell(points, low, cell);
  while (kept.size() > most) kept = one_per_cell(points, low, cell *= 1.1);
  ShownPoints out;
  for (const std::size_t i : kept) out.at.push_back(points[i]);
  out.spacing = std::max(spacing, spacing * std::sqrt(double(points.size()) / double(kept.size())));
  const Surface surface(out.at, {.spacing = out.spacing, .noise = 0});
  std::vector<Shape> shapes(out.at.size());
  parallel_for(shapes.size(), [&](std::size_t i) {
    thread_local std::vector<int> near;
    shapes[i] = shape_at(surface, out.at[i], 2.6 * out.spacing, near);  // some twenty neighbours
  });
  for (const Shape& s : shapes) out.normals.push_back(s.normal), out.edge.push_back(s.edge);
  return out;
}

Rigid laid_flat(const std::vector<Vec3>& points) {
  Vec3 low = points.front(), high = low, mean = Vec3::Zero();
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p), mean += p;
  mean /= double(points.size());
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Vec3& p : points) scatter += (p - mean) * (p - mean).transpose();
  const Eigen::Matrix3d axes = Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(scatter).eigenvectors();
  const Vec3 x = axes.col(2), z = axes.col(0);
  Rigid out = Rigid::Identity();
  out.linear() << x.transpose(), z.cross(x).transpose(), z.transpose();
  out.translation() = -(out.linear() * ((low + high) / 2));
  return out;
}

}  // namespace gapfront::report
