// The nearest points, by nanoflann, for points that stay where they are while the tree lives.
//
// There are two trees, as neither is as fast at the other's work. Own measurement on one core, for a mold face of 0.1
// and of 1 million points, µs a query, places drawn at random (and side by side):
//                                     nanoflann              ScanTree
//   the nearest                       1.3, 5.1 (0.5, 1.1)    2.1, 5.3 (1.1, 2.0)
//   the 13 nearest                    4.6, 13  (2.6, 3.1)    6.4, 14  (3.7, 5.1)
//   all within five spacings, 75      8.6, 25  (4.0, 5.7)    4.1, 11  (2.6, 3.5)
// Registration asks for the nearest; the fits of the gap for all around a place.
#pragma once
#include <cstdint>
#include <nanoflann.hpp>
#include <utility>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

class PointTree {
 public:
  explicit PointTree(const std::vector<Vec3>& points) : view_{points}, tree_(3, view_, {16}) {}  // 16 points a leaf
  PointTree(const PointTree&) = delete;

  /// Index and squared distance of the nearest point closer than `reach` mm; index −1: none.
  std::pair<int, double> nearest(const Vec3& p, double reach) const {
    std::uint32_t index = 0;
    double square = reach * reach;
    nanoflann::KNNResultSet<double, std::uint32_t> found(1);
    found.init(&index, &square);
    square = reach * reach;  // init() opens the reach to infinity; this closes it again
    tree_.findNeighbors(found, p.data(), nanoflann::SearchParams());
    return {found.size() ? static_cast<int>(index) : -1, square};
  }
  /// The `count` nearest, nearest first.
  void nearest(const Vec3& p, int count, std::vector<std::uint32_t>& index, std::vector<double>& square) const {
    index.resize(count), square.resize(count);
    nanoflann::KNNResultSet<double, std::uint32_t> found(count);
    found.init(index.data(), square.data());
    tree_.findNeighbors(found, p.data(), nanoflann::SearchParams());
    index.resize(found.size()), square.resize(found.size());
  }

 private:
  struct View {
    const std::vector<Vec3>& points;
    std::size_t kdtree_get_point_count() const { return points.size(); }
    double kdtree_get_pt(std::size_t i, std::size_t axis) const { return points[i][Eigen::Index(axis)]; }
    template <class Box>
    bool kdtree_get_bbox(Box&) const {
      return false;
    }
  };
  View view_;
  nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, View>, View, 3, std::uint32_t> tree_;
};

}  // namespace gapfront
