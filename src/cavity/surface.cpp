// A scanned half with a k-d tree over its points.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <nanoflann.hpp>
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

namespace {

/// What nanoflann needs to see of the points.
struct TreePoints {
  std::vector<Vec3> points;
  std::size_t kdtree_get_point_count() const { return points.size(); }
  double kdtree_get_pt(std::size_t i, std::size_t axis) const { return points[i][Eigen::Index(axis)]; }
  template <class Box>
  bool kdtree_get_bbox(Box&) const {
    return false;
  }
};

/// 32-bit indices halve the tree's index list; a scan of more than 2³¹ points does not fit in memory anyhow.
using Tree =
    nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, TreePoints>, TreePoints, 3, std::uint32_t>;

/// Points per leaf. A fit asks for 50–150 points at once, so leaves of 24 cost little in needless distances and
/// keep the tree's own nodes below 6 bytes per point (about 34 bytes per point in all, with the points).
constexpr std::size_t leaf_points = 24;

/// Collects indices only, in the order of the tree walk, without a distance beside them.
struct Collect {
  double radius2;
  std::vector<int>& found;
  std::size_t size() const { return found.size(); }
  bool full() const { return true; }
  double worstDist() const { return radius2; }
  bool addPoint(double distance2, std::uint32_t index) {
    if (distance2 < radius2) found.push_back(int(index));
    return true;
  }
};

/// Keeps the one nearest point below the distance it starts with.
struct Nearer {
  double distance2;
  int index = -1;
  std::size_t size() const { return std::size_t(index >= 0); }
  bool full() const { return true; }
  double worstDist() const { return distance2; }
  bool addPoint(double d2, std::uint32_t i) {
    if (d2 < distance2) distance2 = d2, index = int(i);
    return true;
  }
};

}  // namespace

struct Surface::Impl {
  TreePoints cloud;
  double spacing, noise;
  Tree tree;
  Impl(std::vector<Vec3> p, double s, double n)
      : cloud{std::move(p)},
        spacing(s),
        noise(n),
        tree(3, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(leaf_points)) {}
};

Surface::Surface(std::vector<Vec3> points, double spacing, double noise) {
  if (points.empty()) throw Error(Fault::input, "surface: no points; give a scan that covers the cavity");
  if (points.size() > std::size_t(std::numeric_limits<int>::max()))
    throw Error(Fault::input, "surface: more than 2147483647 points; thin the scan");
  if (!(spacing > 0) || !std::isfinite(spacing))
    throw Error(Fault::input, "surface: point spacing must be above 0 mm; estimate it from the scan");
  if (!(noise >= 0) || !std::isfinite(noise))
    throw Error(Fault::input, "surface: noise must be 0 mm or more; estimate it from the scan");
  for (const Vec3& p : points)
    if (!p.allFinite()) throw Error(Fault::input, "surface: a point is not finite; clean the scan first");
  points.shrink_to_fit();
  impl_ = std::make_shared<const Impl>(std::move(points), spacing, noise);
}

const std::vector<Vec3>& Surface::points() const { return impl_->cloud.points; }
double Surface::spacing() const { return impl_->spacing; }
double Surface::noise() const { return impl_->noise; }

void Surface::within(const Vec3& p, double radius, std::vector<int>& found) const {
  found.clear();
  Collect set{radius * radius, found};
  impl_->tree.findNeighbors(set, p.data(), nanoflann::SearchParams());
}

std::vector<int> Surface::within(const Vec3& p, double radius) const {
  std::vector<int> found;
  within(p, radius, found);
  const auto& q = points();
  std::vector<std::pair<double, int>> order;
  order.reserve(found.size());
  for (int i : found) order.emplace_back((q[std::size_t(i)] - p).squaredNorm(), i);
  // Equal distances go by index, so that the order never depends on the tree.
  std::sort(order.begin(), order.end());
  std::transform(order.begin(), order.end(), found.begin(), [](const auto& o) { return o.second; });
  return found;
}

std::pair<int, double> Surface::nearest(const Vec3& p) const {
  std::uint32_t index = 0;
  double distance2 = 0;
  nanoflann::KNNResultSet<double, std::uint32_t> set(1);
  set.init(&index, &distance2);
  impl_->tree.findNeighbors(set, p.data(), nanoflann::SearchParams());
  return {int(index), std::sqrt(distance2)};
}

std::pair<int, double> Surface::nearest(const Vec3& p, double bound) const {
  Nearer set{bound * bound};
  impl_->tree.findNeighbors(set, p.data(), nanoflann::SearchParams());
  return {set.index, std::sqrt(set.distance2)};
}

}  // namespace gapfront
