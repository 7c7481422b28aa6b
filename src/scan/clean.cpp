// Cleaning: exact duplicates, far clutter, statistical outliers, in this order; every removal is counted.
#include <Eigen/Dense>
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdio>
#include <limits>
#include <numeric>
#include "core/joined_sets.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"
#include "scan/estimate.hpp"

namespace gapfront::scan {
namespace {

using Flags = std::vector<std::uint8_t>;  // not vector<bool>: threads write neighbouring entries

/// Puts the points into one order, whatever that of the file: by cell, so that neighbours stay close in memory, and in
/// it by coordinates and normal. Sums, samples and first-found points further on then never depend on the file's order.
void sort_points(Cloud& cloud, const cells::Grid& grid) {
  const bool normals = !cloud.normals.empty();
  const auto before = [&](std::uint32_t a, std::uint32_t b) {
    for (int k = 0; k < 3; ++k)
      if (cloud.points[a][k] != cloud.points[b][k]) return cloud.points[a][k] < cloud.points[b][k];
    // By their bits: a normal may be no number.
    for (int k = 0; normals && k < 3; ++k) {
      const auto m = std::bit_cast<std::uint32_t>(cloud.normals[a][k]),
                 n = std::bit_cast<std::uint32_t>(cloud.normals[b][k]);
      if (m != n) return m < n;
    }
    return false;
  };
  std::vector<Vec3> points(cloud.points.size());
  std::vector<Vec3f> directions(cloud.normals.size());
  const std::uint32_t* first = grid.begin(0);
  parallel_for(
      grid.cells(),
      [&](std::size_t c) {
        std::vector<std::uint32_t> in(grid.begin(c), grid.end(c));
        std::sort(in.begin(), in.end(), before);
        for (std::size_t k = 0, to = std::size_t(grid.begin(c) - first); k < in.size(); ++k, ++to) {
          points[to] = cloud.points[in[k]];
          if (normals) directions[to] = cloud.normals[in[k]];
        }
      },
      256);
  cloud.points = std::move(points), cloud.normals = std::move(directions);
}

/// Removes the flagged points; returns how many.
std::uint64_t drop(Cloud& cloud, const Flags& out) {
  if (std::find(out.begin(), out.end(), 1) == out.end()) return 0;
  std::size_t to = 0;
  const bool normals = !cloud.normals.empty();
  for (std::size_t i = 0; i < cloud.points.size(); ++i) {
    if (out[i]) continue;
    cloud.points[to] = cloud.points[i];
    if (normals) cloud.normals[to] = cloud.normals[i];
    ++to;
  }
  const std::uint64_t gone = cloud.points.size() - to;
  cloud.points.resize(to);
  if (normals) cloud.normals.resize(to);
  return gone;
}

/// Flags all but the first of points with equal coordinates, which stand beside each other in sorted points.
Flags find_duplicates(const std::vector<Vec3>& points) {
  Flags out(points.size(), 0);
  for (std::size_t i = 1; i < points.size(); ++i) out[i] = points[i] == points[i - 1];
  return out;
}

/// Such scans have no spacing: it is 0 within a place, and that of the places between them.
[[noreturn]] void refuse_clusters(const Scan& scan, const Pitch& pitch) {
  char line[320];
  std::snprintf(
      line, sizeof line,
      ": the points stand in close clusters at %.0f %% of the places, as near-duplicates in merged or repeated "
      "scans do; thin the scan evenly, one point a place, or export the scans one by one",
      100 * pitch.crowded);
  throw Error(Fault::input, scan.path + line);
}

/// Flags small islands: cells of half the clutter distance, joined when they touch, so that islands are parted by gaps
/// between one half and three halves of it at least. The first point of each cell of `fine` stands for them all.
Flags find_clutter(const std::vector<Vec3>& points, const cells::Grid& fine, double distance, double fraction) {
  std::vector<Vec3> standing(fine.cells());
  for (std::size_t c = 0; c < standing.size(); ++c) standing[c] = points[*fine.begin(c)];
  const cells::Grid grid(standing, distance / 2);
  std::vector<std::uint32_t> parent(grid.cells());
  std::iota(parent.begin(), parent.end(), 0u);
  // The 13 neighbours with a lower key are enough: joining is mutual.
  for (int dx = -1; dx <= 0; ++dx)
    for (int dy = -1; dy <= 1; ++dy)
      for (int dz = -1; dz <= 1; ++dz) {
        if (dx == 0 && (dy > 0 || (dy == 0 && dz >= 0))) continue;
        const std::uint64_t shift = std::uint64_t(dx) * cells::Grid::kX + std::uint64_t(dy) * cells::Grid::kY +
                                    std::uint64_t(dz) * cells::Grid::kZ;
        std::size_t other = 0;
        for (std::size_t c = 0; c < grid.cells(); ++c) {
          const std::uint64_t wanted = grid.key(c) + shift;
          while (other < grid.cells() && grid.key(other) < wanted) ++other;
          if (other == grid.cells() || grid.key(other) != wanted) continue;
          join(parent, std::uint32_t(c), std::uint32_t(other));
        }
      }
  std::vector<std::uint64_t> held(grid.cells(), 0);
  for (std::size_t c = 0; c < grid.cells(); ++c)
    for (const auto* f = grid.begin(c); f != grid.end(c); ++f)
      held[root(parent, std::uint32_t(c))] += fine.end(*f) - fine.begin(*f);
  const std::uint64_t largest = *std::max_element(held.begin(), held.end());
  const double limit = fraction * double(points.size());
  Flags out(points.size(), 0);
  for (std::size_t c = 0; c < grid.cells(); ++c) {
    const std::uint64_t n = held[root(parent, std::uint32_t(c))];
    if (double(n) < limit && n < largest)
      for (const auto* f = grid.begin(c); f != grid.end(c); ++f)
        for (const auto* i = fine.begin(*f); i != fine.end(*f); ++i) out[*i] = 1;
  }
  return out;
}

/// A point's neighbour.
struct Near {
  double squared;
  std::uint32_t index;
  bool operator<(const Near& o) const { return squared != o.squared ? squared < o.squared : index < o.index; }
};

/// Gap, mm, that parts an island. Tooling balls up to 50 mm across stand clear of the flange by up to their radius
/// where the scanner did not see their underside; touching cells of half the gap join anything closer than that half.
/// On small pieces (or undeclared units) a tenth of the extent is far already.
double clutter_gap(const std::vector<Vec3>& points, double spacing, double spacings) {
  Vec3 low = points[0], high = points[0];
  for (const auto& p : points) {
    low = low.cwiseMin(p);
    high = high.cwiseMax(p);
  }
  return std::max(spacings * spacing, std::min(50.0, 0.1 * (high - low).norm()));
}

/// True when the point stands off the surface of its neighbours alone: its distance from their plane is large beside
/// their own scatter about it, and no two of the wider surroundings stand off likewise. Beyond a sharp edge the surface
/// goes on, so true points have such company; a outlier reading has none.
bool stands_alone(const std::vector<Vec3>& points, const Vec3& p, const Near* near, int n,
                  const std::vector<Near>& wider, double sigmas, double minimum) {
  Vec3 mean = Vec3::Zero();
  for (int k = 0; k < n; ++k) mean += points[near[k].index] - p;
  mean /= n;
  // A plane through the middle of the neighbours is never farther off than that middle: most points end here.
  if (mean.squaredNorm() < minimum * minimum) return false;
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  for (int k = 0; k < n; ++k) {
    const Vec3 d = points[near[k].index] - p - mean;
    c += d * d.transpose();
  }
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame;
  frame.computeDirect(c);
  const Vec3 normal = frame.eigenvectors().col(0);
  const double offset = mean.dot(normal);  // of the plane from the point
  const double scatter = std::sqrt(std::max(0.0, frame.eigenvalues()[0]) / (n - 3));
  if (std::abs(offset) < minimum || std::abs(offset) < sigmas * scatter) return false;
  int company = 0;
  for (const Near& w : wider) {
    const double theirs = offset - (points[w.index] - p).dot(normal);  // of the plane from the other point
    if (theirs * offset > 0 && std::abs(theirs) > 0.5 * std::abs(offset)) ++company;
  }
  return company < 2;
}

/// Mean distance to the k nearest of `around` within √reach2, which go to the front of `near`; negative for fewer.
double distance_to_nearest(const std::vector<Vec3>& points, std::uint32_t i, const std::vector<std::uint32_t>& around,
                           double reach2, std::size_t k, std::vector<Near>& near) {
  near.clear();
  for (auto j : around) {
    const double d = (points[j] - points[i]).squaredNorm();
    if (j != i && d <= reach2) near.push_back({d, j});
  }
  if (near.size() < k) return -1;
  std::nth_element(near.begin(), near.begin() + std::ptrdiff_t(k) - 1, near.end());
  double sum = 0;
  for (std::size_t q = 0; q < k; ++q) sum += std::sqrt(near[q].squared);
  return sum / double(k);
}

/// A plane through a cell's surroundings. Where all of them lie close to it, none of the cell stands off.
struct Slab {
  Vec3 middle, normal;
  double half = 0;  // of its thickness
  explicit Slab(const std::vector<Vec3>& places) {
    // A third of them, some twenty, give the plane well enough; the thickness is that of all.
    Vec3 sum = Vec3::Zero();
    Eigen::Matrix3d squares = Eigen::Matrix3d::Zero();
    double n = 0;
    for (std::size_t q = 0; q < places.size(); q += 3, ++n) {
      const Vec3 d = places[q] - places[0];
      sum += d;
      squares += d * d.transpose();
    }
    middle = places[0] + sum / n;
    Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame;
    frame.computeDirect(squares - sum * sum.transpose() / n);
    normal = frame.eigenvectors().col(0);
    for (const Vec3& p : places) half = std::max(half, height(p));
  }
  double height(const Vec3& p) const { return std::abs((p - middle).dot(normal)); }
};

/// True when at least k others lie within √reach2 of p. `places` has p's own cell in its middle: most need no more.
bool has_company(const std::vector<Vec3>& places, const Vec3& p, double reach2, std::size_t k) {
  std::size_t found = 0;  // p itself among them
  const auto count = [&](std::size_t from, std::size_t to) {
    for (std::size_t q = from; q < to && found <= k; ++q) found += (places[q] - p).squaredNorm() <= reach2;
  };
  const std::size_t third = places.size() / 3;
  count(third, places.size());
  count(0, third);
  return found > k;
}

struct Sparse {
  std::uint32_t index;
  double distance;  // mean to its neighbours
  std::vector<std::uint32_t> near;
};

/// Flags statistical outliers. Nearly all points have their neighbours complete in and about their cell of the fine
/// grid; those with too few there go on to cells four times as large, and again.
class OutlierSearch {
 public:
  OutlierSearch(const std::vector<Vec3>& points, const cells::Grid& fine, double minimum, const CleanOptions& o)
      : points_(points),
        fine_(fine),
        reach2_(fine.size() * fine.size()),
        minimum_(minimum),
        sigma_(o.outlier_sigma),
        k_(std::size_t(std::max(4, o.neighbours))),
        out_(points.size(), 0),
        mean_(points.size(), -1.f) {}

  Flags operator()() {
    if (points_.size() <= k_) return out_;
    in_fine_cells();
    // Points that have no neighbourhood even within some fifty spacings.
    for (auto i : in_larger_cells()) out_[i] = 1;
    flag_lonely();
    return std::move(out_);
  }

 private:
  /// Flags what stands off the points around it; sets the mean distance of the points drawn.
  void in_fine_cells() {
    // Twenty thousand places give median and spread to a per cent.
    const std::size_t drawn = points_.size() / 20000 + 1;
    fine_.for_each_cell([&](std::size_t cell, const std::vector<std::uint32_t>& around) {
      thread_local std::vector<Near> near;
      thread_local std::vector<Vec3> reused;
      auto& places = reused;  // looked up once, not at every use
      places.resize(around.size());
      for (std::size_t q = 0; q < places.size(); ++q) places[q] = points_[around[q]];
      const Slab slab(places);
      for (const auto* i = fine_.begin(cell); i != fine_.end(cell); ++i) {
        const Vec3& p = points_[*i];
        if (*i % drawn != 0 && slab.height(p) + slab.half < minimum_ && has_company(places, p, reach2_, k_)) {
          mean_[*i] = 0;
          continue;
        }
        mean_[*i] = float(distance_to_nearest(points_, *i, around, reach2_, k_, near));
        if (mean_[*i] >= 0) out_[*i] = stands_alone(points_, p, near.data(), int(k_), near, sigma_, minimum_);
      }
    });
  }

  /// Those that had too few; returns what has no neighbourhood there either.
  std::vector<std::uint32_t> in_larger_cells() {
    std::vector<std::uint32_t> open;
    for (std::size_t i = 0; i < points_.size(); ++i)
      if (mean_[i] < 0) open.push_back(std::uint32_t(i));
    for (double size = 4 * fine_.size(); !open.empty() && size < 20 * fine_.size(); size *= 4) {
      auto found = neighbours_in_cells(open, size);
      open.clear();
      for (auto& f : found) {
        if (f.near.empty())
          open.push_back(f.index);
        else
          sparse_.push_back(std::move(f));
      }
    }
    return open;
  }
  std::vector<Sparse> neighbours_in_cells(const std::vector<std::uint32_t>& open, double size) {
    const cells::Grid grid(points_, size);
    std::vector<Sparse> found(open.size());
    parallel_for(
        open.size(),
        [&](std::size_t s) {
          std::vector<std::uint32_t> around;
          std::vector<Near> near;
          grid.around(points_[open[s]], around);
          found[s] = {open[s], distance_to_nearest(points_, open[s], around, grid.size() * grid.size(), k_, near), {}};
          if (found[s].distance < 0) return;
          mean_[open[s]] = float(found[s].distance);
          for (std::size_t q = 0; q < k_; ++q) found[s].near.push_back(near[q].index);
        },
        16);
    return found;
  }

  /// Limit on the mean neighbour distance: mean and σ taken robustly, or the outliers themselves would widen them.
  double usual_distance() const {
    std::vector<float> found;
    for (float m : mean_)
      if (m > 0) found.push_back(m);
    if (found.empty()) return std::numeric_limits<double>::infinity();
    const float centre = median(found);
    for (float& m : found) m = std::abs(m - centre);
    return centre + sigma_ * kMadToSigma * median(std::move(found));
  }

  /// Thinly covered surface is no outlier: there the neighbours are as lonely as the point itself. An outlier's
  /// neighbours sit on the dense surface. Twice is beyond what an edge does to a raster (1.4 at a straight edge).
  void flag_lonely() {
    const double limit = usual_distance();
    std::vector<std::uint32_t> around;
    std::vector<Near> near;
    for (const Sparse& s : sparse_) {
      if (s.distance <= limit) continue;
      std::vector<float> theirs;
      for (auto j : s.near) {
        if (mean_[j] == 0) {
          fine_.around(points_[j], around);
          mean_[j] = float(distance_to_nearest(points_, j, around, reach2_, k_, near));
        }
        theirs.push_back(mean_[j] < 0 ? std::numeric_limits<float>::max() : mean_[j]);
      }
      if (s.distance > 2.0 * median(std::move(theirs))) out_[s.index] = 1;
    }
  }

  const std::vector<Vec3>& points_;
  const cells::Grid& fine_;
  double reach2_, minimum_, sigma_;
  std::size_t k_;
  Flags out_;
  std::vector<float> mean_;  ///< distance to the neighbours; −1: too few, 0: enough, but not one of those drawn
  std::vector<Sparse> sparse_;
};

Flags find_outliers(const std::vector<Vec3>& points, const cells::Grid& fine, double spacing, double noise,
                    const CleanOptions& o) {
  // Off the surface by less than a third of a spacing, a point does no harm to a fit and cannot be told from texture;
  // and never within the scatter itself.
  return OutlierSearch(points, fine, std::max(spacing / 3, o.outlier_sigma * noise), o)();
}

}  // namespace

CleanReport clean(Scan& scan, const CleanOptions& o, const Progress& progress) {
  CleanReport report;
  auto& points = scan.cloud.points;
  report.read = points.size() + scan.nonfinite_dropped;
  report.nonfinite = scan.nonfinite_dropped;
  if (points.empty()) throw Error(Fault::input, scan.path + ": no finite points; export the scan again");
  report_progress(progress, "clean", 0);
  {
    sort_points(scan.cloud, crowded_grid(points));
    report.duplicates = drop(scan.cloud, find_duplicates(points));
    // Chosen again: cells for thirty-two readings of each place hold less than one of those that are left.
    const cells::Grid grid = crowded_grid(points);
    const Pitch pitch = point_pitch(points, grid);
    report.spacing = pitch.spacing;
    if (pitch.crowded > 0.5) refuse_clusters(scan, pitch);
    report_progress(progress, "clean", 0.3);
    if (report.spacing > 0)
      report.clutter =
          drop(scan.cloud,
               find_clutter(points, grid, clutter_gap(points, report.spacing, o.clutter_distance), o.clutter_fraction));
  }
  report_progress(progress, "clean", 0.5);
  if (report.spacing > 0) {
    const cells::Grid grid(points, noise_reach(report.spacing));
    report.noise = surface_noise(points, grid, report.spacing);
    if (o.outliers) {
      const Flags outliers = find_outliers(points, grid, report.spacing, report.noise, o);
      report_progress(progress, "clean", 0.9);
      report.noise = surface_noise(points, grid, report.spacing, &outliers);
      report.outliers = drop(scan.cloud, outliers);
    }
  }
  report.kept = points.size();
  report_progress(progress, "clean", 1);
  return report;
}

}  // namespace gapfront::scan
