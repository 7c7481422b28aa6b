#include "scan/estimate.hpp"
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include "core/linear.hpp"
#include "core/statistics.hpp"

namespace gapfront::scan {
namespace {

// Median of 3000 draws: its own relative scatter is about 1.25/√3000 · (spread of the draws), below 1 % for both uses.
constexpr std::size_t kSample = 3000;

/// Variance of the residuals of a quadric over the tangent plane at the neighbours' centre; negative when undetermined.
double quadric_variance(const std::vector<Vec3>& points, const std::vector<std::uint32_t>& near, const Vec3& at,
                        double radius, double& dof) {
  const std::size_t n = near.size();
  Vec3 mean = Vec3::Zero();
  for (auto i : near) mean += points[i] - at;
  mean /= double(n);
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  for (auto i : near) {
    const Vec3 d = points[i] - at - mean;
    c += d * d.transpose();
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame(c);
  const auto& axes = frame.eigenvectors();
  // Six coefficients from points on a line, or nearly so, mean nothing.
  if (frame.eigenvalues()[1] < 0.05 * frame.eigenvalues()[2]) return -1;
  Eigen::MatrixXd a(n, 6);
  Eigen::VectorXd b(n);
  for (std::size_t k = 0; k < n; ++k) {
    const Vec3 d = axes.transpose() * (points[near[k]] - at - mean) / radius;
    a.row(k) << 1, d.y(), d.z(), d.y() * d.y(), d.y() * d.z(), d.z() * d.z();
    b[k] = d.x() * radius;
  }
  const Eigen::VectorXd x = least_squares(a, b);
  dof = double(n) - 6;
  return (a * x - b).squaredNorm() / dof;
}

/// Median over sample places of the local variance within `radius`.
double variance_within(const std::vector<Vec3>& points, const cells::Grid& grid, double radius,
                       const std::vector<std::uint8_t>* left_out) {
  const std::size_t sites = std::min(points.size(), kSample);
  std::vector<double> found(sites, -1);
  parallel_for(
      sites,
      [&](std::size_t s) {
        const std::size_t self = s * points.size() / sites;
        if (left_out && (*left_out)[self]) return;
        const Vec3 at = points[self];
        std::vector<std::uint32_t> near;
        grid.around(at, near);
        std::erase_if(near, [&](std::uint32_t i) {
          return (points[i] - at).squaredNorm() > radius * radius || (left_out && (*left_out)[i]);
        });
        // Twice the unknowns: below that the residuals tell more about chance than about the scatter.
        if (near.size() < 12) return;
        // Some hundred points tell enough; more only cost time on scans much denser than their scatter.
        if (near.size() > 400) {
          for (std::size_t k = 0; k < 400; ++k) near[k] = near[k * near.size() / 400];
          near.resize(400);
        }
        double dof = 0;
        const double v = quadric_variance(points, near, at, radius, dof);
        // The median of a χ² variable lies below its mean: ν (1 − 2/(9ν))³ (Wilson & Hilferty 1931).
        if (v >= 0) found[s] = v / std::pow(1 - 2 / (9 * dof), 3);
      },
      16);
  std::erase_if(found, [](double v) { return v < 0; });
  return median(std::move(found));
}

}  // namespace

cells::Grid crowded_grid(const std::vector<Vec3>& points) {
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const auto& p : points) {
    low = low.cwiseMin(p);
    high = high.cwiseMax(p);
  }
  Vec3 e = (high - low).cwiseMax(0);
  std::sort(e.data(), e.data() + 3);
  // A surface of the two largest extents, eight points a cell.
  double size = std::sqrt(8 * std::max(e[2] * e[1], 1e-6 * e[2] * e[2]) / double(points.size()));
  // Far clutter blows the extent up: correct by what the cells really hold (per point, so that empty space does not
  // count). Two rounds settle any realistic case; each costs one sort.
  for (int round = 0;; ++round) {
    cells::Grid grid(points, size > 0 ? size : 1);
    double held = 0;
    for (std::size_t c = 0; c < grid.cells(); ++c) held += std::pow(double(grid.end(c) - grid.begin(c)), 2);
    held /= double(points.size());
    if (round == 2 || !(size > 0) || (held > 4 && held < 32)) return grid;
    size = grid.size() * std::sqrt(8 / held);
  }
}

double median_spacing(const std::vector<Vec3>& points, const cells::Grid& grid) {
  if (points.size() < 2) return 0;
  const std::size_t sites = std::min(points.size(), kSample);
  std::vector<double> nearest(sites, -1);
  parallel_for(
      sites,
      [&](std::size_t s) {
        const std::size_t self = s * points.size() / sites;
        std::vector<std::uint32_t> near;
        grid.around(points[self], near);
        double best = -1;
        for (auto i : near) {
          const double d = (points[i] - points[self]).squaredNorm();
          if (i != self && (best < 0 || d < best)) best = d;
        }
        if (best >= 0) nearest[s] = std::sqrt(best);
      },
      16);
  std::erase_if(nearest, [](double d) { return d < 0; });
  return median(std::move(nearest));
}

// Some 38 neighbours on a square raster: enough freedom, and the fourth-order sag of a 60 mm radius at 1.5 mm spacing
// stays near 0.1 µm.
double noise_reach(double spacing) { return 3.5 * spacing; }

double surface_noise(const std::vector<Vec3>& points, const cells::Grid& grid, double spacing,
                     const std::vector<std::uint8_t>* left_out) {
  if (points.size() < 12 || !(spacing > 0)) return 0;
  double radius = noise_reach(spacing), sigma = std::sqrt(variance_within(points, grid, radius, left_out));
  // Where scatter is not small beside the neighbourhood, the ball cuts it off: widen. Seven rounds are a factor 128.
  for (int round = 0; round < 7 && sigma >= radius / 8; ++round) {
    radius *= 2;
    sigma = std::sqrt(variance_within(points, cells::Grid(points, radius), radius, left_out));
  }
  return sigma;
}

}  // namespace gapfront::scan
