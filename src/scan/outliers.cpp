#include "scan/outliers.hpp"
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "scan/estimate.hpp"

namespace gapfront::scan {
namespace {

/// A point's neighbour.
struct Near {
  double squared;
  std::uint32_t index;
  bool operator<(const Near& o) const { return squared != o.squared ? squared < o.squared : index < o.index; }
};

/// True when the point stands off the surface of its neighbours alone: its distance from their plane is large beside
/// their own scatter about it, and no two of the wider surroundings stand off likewise. Beyond a sharp edge the surface
/// goes on, so true points have such company; an outlier has none.
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

// Twelve points that fill a space are half as thick as wide (squared); of a surface they are thin, up to a quarter
// where it turns by a right angle between them.
constexpr double kSwarm = 0.25;

/// Scatter of a place and its neighbours across their plane against that along it, squared.
double relative_thickness(const std::vector<Vec3>& points, const Sparse& s) {
  Vec3 sum = Vec3::Zero();
  Eigen::Matrix3d squares = Eigen::Matrix3d::Zero();
  for (auto j : s.near) {
    const Vec3 d = points[j] - points[s.index];
    sum += d, squares += d * d.transpose();
  }
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame;
  frame.computeDirect(squares - sum * sum.transpose() / double(s.near.size() + 1), Eigen::EigenvaluesOnly);
  return frame.eigenvalues()[1] > 0 ? frame.eigenvalues()[0] / frame.eigenvalues()[1] : 0;
}

/// Flags statistical outliers. Nearly all points have their neighbours complete in and about their cell of the fine
/// grid; those with too few there go on to cells four times as large, and again.
class OutlierSearch {
 public:
  OutlierSearch(const std::vector<Vec3>& points, const cells::Grid& fine, double reach, double minimum,
                const CleanOptions& o)
      : points_(points),
        fine_(fine),
        reach_(reach),
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
        if (*i % drawn != 0 && slab.height(p) + slab.half < minimum_ && has_company(places, p, reach_ * reach_, k_)) {
          mean_[*i] = 0;
          continue;
        }
        mean_[*i] = float(distance_to_nearest(points_, *i, around, reach_ * reach_, k_, near));
        if (mean_[*i] >= 0) out_[*i] = stands_alone(points_, p, near.data(), int(k_), near, sigma_, minimum_);
      }
    });
  }

  /// Those that had too few; returns what has no neighbourhood there either.
  std::vector<std::uint32_t> in_larger_cells() {
    std::vector<std::uint32_t> open;
    for (std::size_t i = 0; i < points_.size(); ++i)
      if (mean_[i] < 0) open.push_back(std::uint32_t(i));
    if (open.empty()) return open;
    std::vector<Vec3> standing(fine_.cells());
    for (std::size_t c = 0; c < standing.size(); ++c) standing[c] = points_[*fine_.begin(c)];
    for (double reach = 4 * reach_; !open.empty() && reach < 20 * reach_; reach *= 4) {
      auto found = neighbours_within(reach, open, standing);
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
  /// `standing`: a point of each fine cell. One that holds a place in reach lies farther off by its diagonal at most.
  std::vector<Sparse> neighbours_within(double reach, const std::vector<std::uint32_t>& open,
                                        const std::vector<Vec3>& standing) {
    const cells::Grid grid(standing, reach + std::sqrt(3.0) * fine_.size());
    std::vector<Sparse> found(open.size());
    parallel_for(
        open.size(),
        [&](std::size_t s) {
          std::vector<std::uint32_t> cells, around;
          std::vector<Near> near;
          grid.around(points_[open[s]], cells);
          for (const auto c : cells) around.insert(around.end(), fine_.begin(c), fine_.end(c));
          found[s] = {open[s], distance_to_nearest(points_, open[s], around, reach * reach, k_, near), {}};
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
  /// neighbours sit on the dense surface; or all fly about it in a swarm. Twice is beyond what an edge does to a raster
  /// (1.4 at a straight edge).
  void flag_lonely() {
    const double limit = usual_distance();
    std::vector<float> thickness(points_.size(), -1.f);  // of the lonely places
    for (const Sparse& s : sparse_)
      if (s.distance > limit) thickness[s.index] = float(relative_thickness(points_, s));
    std::vector<std::uint32_t> around;
    std::vector<Near> near;
    for (const Sparse& s : sparse_) {
      if (s.distance <= limit) continue;
      std::vector<float> theirs, thick{thickness[s.index]};
      for (auto j : s.near) {
        if (mean_[j] == 0) {
          fine_.around(points_[j], around);
          mean_[j] = float(distance_to_nearest(points_, j, around, reach_ * reach_, k_, near));
        }
        theirs.push_back(mean_[j] < 0 ? std::numeric_limits<float>::max() : mean_[j]);
        if (thickness[j] >= 0) thick.push_back(thickness[j]);
      }
      if (s.distance > 2.0 * median(std::move(theirs)) || median(std::move(thick)) > kSwarm) out_[s.index] = 1;
    }
    flag_company(limit);
  }

  /// Over a swarm's rim some neighbours are of the surface below, and flat: what half of the neighbours are, such a
  /// place is. Each round reaches one neighbour further.
  void flag_company(double limit) {
    for (int round = 0; round < 3; ++round) {
      const Flags before = out_;
      for (const Sparse& s : sparse_) {
        std::size_t flagged = 0;
        for (auto j : s.near) flagged += before[j];
        if (s.distance > limit && 2 * flagged >= s.near.size()) out_[s.index] = 1;
      }
    }
  }

  const std::vector<Vec3>& points_;
  const cells::Grid& fine_;
  double reach_, minimum_, sigma_;
  std::size_t k_;
  Flags out_;
  std::vector<float> mean_;  ///< distance to the neighbours; −1: too few, 0: enough, but not one of those drawn
  std::vector<Sparse> sparse_;
};

}  // namespace

Flags find_outliers(const std::vector<Vec3>& points, const cells::Grid& fine, const Sampling& sampling,
                    const CleanOptions& o) {
  // Off the surface by less than a third of a spacing, a point does no harm to a fit and cannot be told from texture;
  // and never within the scatter itself.
  const double minimum = std::max(sampling.spacing / 3, o.outlier_sigma * sampling.noise);
  return OutlierSearch(points, fine, noise_reach(sampling.spacing), minimum, o)();
}

}  // namespace gapfront::scan
