// Surfaces as registration wants them: thinned points with normals.
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "align/voxel_key.hpp"
#include "core/parallel.hpp"
#include "core/point_tree.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::align {
namespace {

constexpr int kNeighbours = 12;  // about two rings: enough to average noise, few enough to follow a radius

/// Principal axes of the neighbourhood: the thinnest is the normal, its spread the misfit.
void add_normals(SurfacePoints& s) {
  const std::size_t n = s.points.size();
  s.normals.assign(n, Vec3::UnitZ());
  std::vector<double> misfit(n, 0), near(n, 0);
  const PointTree tree(s.points);
  parallel_for(n, [&](std::size_t i) {
    std::vector<std::uint32_t> index;
    std::vector<double> square;
    tree.nearest(s.points[i], kNeighbours + 1, index, square);
    if (index.size() < 4) return;
    Vec3 mean = Vec3::Zero();
    for (auto k : index) mean += s.points[k] / index.size();
    Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
    for (auto k : index) scatter += (s.points[k] - mean) * (s.points[k] - mean).transpose();
    Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes;
    axes.computeDirect(scatter);
    s.normals[i] = axes.eigenvectors().col(0);
    misfit[i] = std::max(0.0, axes.eigenvalues()(0)) / (index.size() - 3);
    near[i] = std::sqrt(square[1]);
  });
  if (n == 0) return;
  s.curve = std::sqrt(median(misfit));  // half of the places are smoother: radii and outliers do not speak for all
  s.spacing = median(near);
}

}  // namespace

SurfacePoints thin_surface(const std::vector<Vec3>& points, double voxel) {
  SurfacePoints out;
  if (voxel <= 0) {
    out.points = points;
    out.weights.assign(points.size(), 1);
  } else {
    std::vector<std::pair<std::uint64_t, std::uint32_t>> order(points.size());
    parallel_for(
        points.size(),
        [&](std::size_t i) {
          order[i] = {voxel_key(points[i], voxel), static_cast<std::uint32_t>(i)};
        },
        4096);
    std::sort(order.begin(), order.end());
    std::vector<double> count;
    for (std::size_t i = 0; i < order.size();) {
      std::size_t end = i;
      Vec3 sum = Vec3::Zero();
      for (; end < order.size() && order[end].first == order[i].first; ++end) sum += points[order[end].second];
      out.points.push_back(sum / double(end - i));
      count.push_back(double(end - i));
      i = end;
    }
    const double usual = median(count);
    for (double c : count) out.weights.push_back(c / (c + usual));
  }
  add_normals(out);
  return out;
}

SurfacePoints sample_mesh(const Mesh& mesh, double spacing) {
  SurfacePoints out;
  double total = 0;
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.points[t[0]], &b = mesh.points[t[1]], &c = mesh.points[t[2]];
    const Vec3 cross = (b - a).cross(c - a);
    const double area = cross.norm() / 2;
    if (!(area > 0)) continue;
    total += area;
    // A triangle gets its share of points, and what is left over goes on to the next, so small ones count as well.
    const std::size_t wanted = std::size_t(std::ceil(total / (spacing * spacing)));
    // Additive recurrence over the parallelogram with the plastic number (M. Roberts 2018), from the triangle's middle:
    // even cover without a grid's direction. Its other half is passed over: folded back, it would fall among these.
    for (int k = 0; out.points.size() < wanted; ++k) {
      const double u = std::fmod(1 / 3.0 + 0.7548776662466927 * k, 1.0),
                   v = std::fmod(1 / 3.0 + 0.5698402909980532 * k, 1.0);
      if (u + v > 1) continue;
      out.points.push_back(a + u * (b - a) + v * (c - a));
      out.normals.push_back(cross.normalized());
    }
  }
  if (!(total > 0)) throw Error(Fault::input, "nominal mesh: no triangle has an area; export it again");
  out.weights.assign(out.points.size(), 1);
  out.spacing = spacing;
  return out;
}

}  // namespace gapfront::align
