#include "scan/estimate.hpp"
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <utility>
#include "core/linear.hpp"
#include "core/statistics.hpp"

namespace gapfront::scan {
namespace {

// Median of 3000 draws: its own relative scatter is about 1.25/√3000 · (spread of the draws), below 1 % for both uses.
constexpr std::size_t kSample = 3000;

// The eight nearest points of a square raster of pitch 1 are at 1 (four) and √2 (four): mean square 1.5. Of points at
// random it is (1 + … + 8) / 8π = 1.43 (the k-th nearest of a Poisson process: mean of π r² is k), and of lines five
// times closer along than across 1.5 again.
constexpr std::size_t kNearest = 8;
constexpr double kMeanSquare = 1.5;
// A fifth of the area may be scanned as thinly as it likes and is then not measured; where it is more, all fits reach
// so far that they find their points there too. 0.7: up to the scatter of eight points the even scan keeps its median.
constexpr double kSparse = 0.8, kOfSparse = 0.7;
// Points that stand side by side by so little of the distance between places are one place read again.
constexpr double kCrowded = 0.05;
// Scatter across a plane against that along it, squared: 9 points of a face that turns by 30° from side to side.
constexpr double kFlat = 0.03;
// So many nearest points of one on a line are on it too, where points are more than twice as close along as across.
constexpr std::size_t kNearestOnLine = 4;
// Scatter across a line against that along it, squared: five points touched by hand along a line stray sideways by a
// third of their distance along it.
constexpr double kLined = 0.05;
// Lines so far apart are worth a square raster of this times their distance: its narrowest fits, 2.6 spacings, then
// reach the third line from everywhere, as a curvature across the lines needs (1.5 distances from between two).
constexpr double kOfLines = 0.65;
// What lies farther off than this from a line's direction (its tangent) is no longer the line itself, but another one.
constexpr double kBeside = 0.6;

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
  const auto frame = spectrum_of(c);
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

namespace {

struct Site {
  std::uint32_t self = 0;
  double pitch = -1, nearest = 0;  // mm; −1: no other point in reach
  bool full = false;               // eight of them
  bool flat = false;               // all in a plane, as on a face; strays stand about in space
  bool lined = false;              // all on a line
  Vec3 along = Vec3::Zero();       // its direction
};

/// Of a place and its nearest points.
Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes_of(const std::vector<Vec3>& points, std::uint32_t self,
                                                       const std::pair<double, std::uint32_t>* near,
                                                       std::size_t count) {
  Vec3 mean = points[self];
  for (std::size_t k = 0; k < count; ++k) mean += points[near[k].second];
  mean /= double(count + 1);
  Eigen::Matrix3d c = (points[self] - mean) * (points[self] - mean).transpose();
  for (std::size_t k = 0; k < count; ++k)
    c += (points[near[k].second] - mean) * (points[near[k].second] - mean).transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes;
  axes.computeDirect(c);
  return axes;
}

void judge_shape(const std::vector<Vec3>& points, std::uint32_t self, const std::pair<double, std::uint32_t>* near,
                 std::size_t count, Site& s) {
  const auto all = axes_of(points, self, near, count), few = axes_of(points, self, near, kNearestOnLine);
  s.flat = all.eigenvalues()[0] < kFlat * all.eigenvalues()[1];
  s.lined = s.full && few.eigenvalues()[1] < kLined * few.eigenvalues()[2];
  s.along = few.eigenvectors().col(2);
}

Site site_at(const std::vector<Vec3>& points, const cells::Grid& grid, std::uint32_t self) {
  std::vector<std::uint32_t> around;
  grid.around(points[self], around);
  std::vector<std::pair<double, std::uint32_t>> near;
  for (auto i : around)
    if (i != self) near.emplace_back((points[i] - points[self]).squaredNorm(), i);
  const std::size_t used = std::min(near.size(), kNearest);
  Site s;
  if (used == 0) return s;
  std::partial_sort(near.begin(), near.begin() + std::ptrdiff_t(used), near.end());
  double sum = 0;
  for (std::size_t k = 0; k < used; ++k) sum += near[k].first;
  // Of fewer than eight the mean square is that of as many at random: (1 + … + k) / kπ.
  s.pitch = std::sqrt(sum / double(used) / (kMeanSquare * double(used + 1) / double(kNearest + 1)));
  s.nearest = std::sqrt(near[0].first);
  s.full = used == kNearest;
  s.self = self;
  if (used >= 4) judge_shape(points, self, near.data(), used, s);
  return s;
}

/// Distance from a place on a line to the next line, mm; −1 where the cells about it hold none.
double to_next_line(const std::vector<Vec3>& points, const cells::Grid& grid, const Site& s) {
  std::vector<std::uint32_t> around;
  grid.around(points[s.self], around);
  double nearest = 1e300, across = -1;
  for (const auto i : around) {
    const Vec3 d = points[i] - points[s.self];
    const double along = std::abs(d.dot(s.along)), off = (d - d.dot(s.along) * s.along).norm();
    if (off > kBeside * along && d.norm() < nearest) nearest = d.norm(), across = off;
  }
  return across;
}

/// Median distance of the lines that the points stand on, mm; 0 where they stand on none.
double between_lines(const std::vector<Vec3>& points, double cell, const std::vector<Site>& sites) {
  std::vector<const Site*> lined;
  std::size_t full = 0;
  for (const Site& s : sites) full += s.full, lined.insert(lined.end(), s.lined ? 1 : 0, &s);
  if (2 * lined.size() < full || lined.size() < 10) return 0;
  // Cells three times as wide reach a line ten times as far off as points are along it; four rounds, 80 times that.
  for (int round = 0; round < 4; ++round, cell *= 3) {
    const cells::Grid grid(points, cell);
    std::vector<double> across(lined.size());
    parallel_for(
        lined.size(), [&](std::size_t k) { across[k] = to_next_line(points, grid, *lined[k]); }, 16);
    std::erase_if(across, [](double x) { return x < 0; });
    if (2 * across.size() > lined.size()) return median(std::move(across));
  }
  return 0;
}

}  // namespace

Pitch point_pitch(const std::vector<Vec3>& points, const cells::Grid& grid) {
  if (points.size() < 2) return {};
  // One place in each cell that holds points: places are then drawn evenly over the area, not over the points, of which
  // merged passes have several times as many in one part as in another.
  std::vector<Site> sites(std::min(grid.cells(), kSample));
  parallel_for(
      sites.size(),
      [&](std::size_t s) { sites[s] = site_at(points, grid, *grid.begin(s * grid.cells() / sites.size())); }, 16);
  Pitch out;
  std::vector<double> any, full, flat;
  for (const Site& s : sites) {
    if (s.pitch < 0) continue;
    any.push_back(s.pitch);
    if (s.full) full.push_back(s.pitch);
    if (s.flat) flat.push_back(s.pitch);
    out.crowded += s.nearest < kCrowded * s.pitch;
  }
  if (any.empty()) return out;
  out.crowded /= double(any.size());
  // A stray has a cell of its own, but hardly eight others about it. Nor have the points of a handful.
  out.spacing = median(10 * full.size() < any.size() ? std::move(any) : std::move(full));
  if (!flat.empty()) out.spacing = std::max(out.spacing, kOfSparse * quantile(std::move(flat), kSparse));
  out.lines = between_lines(points, grid.size(), sites);
  out.spacing = std::max(out.spacing, kOfLines * out.lines);
  return out;
}

// Some 25 neighbours on a square raster: four times the unknowns of a quadric, and the fourth-order sag of a 60 mm
// radius at 1.5 mm spacing stays near 0.05 µm.
double noise_reach(double spacing) { return 2.8 * spacing; }

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
