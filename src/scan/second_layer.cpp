// A second surface parallel to the face: a ghost of a shifted or repeated scan.
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "core/cell_grid.hpp"
#include "core/statistics.hpp"
#include "gapfront/scan.hpp"

namespace gapfront::scan {
namespace {

/// Normal of the plane through a point's eight nearest; `near` holds squared distances and offsets.
Vec3 normal_of(std::vector<std::pair<double, Vec3>>& near) {
  std::partial_sort(near.begin(), near.begin() + 9, near.end(),
                    [](const auto& a, const auto& b) { return a.first < b.first; });
  Vec3 mean = Vec3::Zero();
  for (int k = 0; k < 9; ++k) mean += near[std::size_t(k)].second / 9;
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  for (int k = 0; k < 9; ++k) {
    const Vec3 d = near[std::size_t(k)].second - mean;
    c += d * d.transpose();
  }
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame;
  frame.computeDirect(c);
  return frame.eigenvectors().col(0);
}

/// Distance of a parallel layer from the point, mm; 0 for none.
double parallel_layer(const std::vector<std::pair<double, Vec3>>& near, const Vec3& normal, double spacing) {
  int own = 0;
  std::vector<double> off;
  Vec3 lateral = Vec3::Zero();
  for (const auto& [squared, d] : near) {
    const double height = d.dot(normal);
    const Vec3 beside = d - height * normal;
    if (beside.norm() > 2 * spacing) continue;
    // Nearer than a spacing a second layer cannot be told from scatter.
    if (std::abs(height) < spacing)
      ++own;
    else
      off.push_back(height), lateral += beside;
  }
  // As dense as half of the own layer, all round the point, thin, and on one side: a wall or a step is none of it.
  if (2 * int(off.size()) < own || off.size() < 4) return 0;
  if ((lateral / double(off.size())).norm() > 0.7 * spacing) return 0;
  const auto [low, high] = std::minmax_element(off.begin(), off.end());
  const double middle = 0.5 * (*low + *high);
  return *high - *low < 0.3 * std::abs(middle) ? std::abs(middle) : 0;
}

}  // namespace

SecondLayer find_second_layer(const Cloud& cloud, double spacing, double reach) {
  SecondLayer out;
  const auto& points = cloud.points;
  if (points.size() < 100 || !(spacing > 0) || !(reach > spacing)) return out;
  const cells::Grid grid(points, reach);
  // A thousand places give a share of a twentieth to a seventh of itself.
  const std::size_t sites = std::min<std::size_t>(points.size(), 1000);
  std::vector<double> found(sites, 0);
  parallel_for(
      sites,
      [&](std::size_t s) {
        const Vec3 at = points[s * points.size() / sites];
        std::vector<std::uint32_t> around;
        grid.around(at, around);
        std::vector<std::pair<double, Vec3>> near;
        for (auto i : around)
          if (const Vec3 d = points[i] - at; d.squaredNorm() <= reach * reach) near.emplace_back(d.squaredNorm(), d);
        if (near.size() < 13) return;
        const Vec3 normal = normal_of(near);
        found[s] = parallel_layer(near, normal, spacing);
      },
      16);
  std::erase(found, 0.0);
  out.share = double(found.size()) / double(sites);
  if (!found.empty()) out.distance = median(std::move(found));
  return out;
}

}  // namespace gapfront::scan
