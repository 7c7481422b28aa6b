// Nearest points by nanoflann, for points that stay where they are while the tree lives.
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
  /// All within `reach` mm, in no particular order.
  void within(const Vec3& p, double reach, std::vector<std::uint32_t>& index, std::vector<double>& square) const {
    std::vector<std::pair<std::uint32_t, double>> found;
    nanoflann::SearchParams any;
    any.sorted = false;
    tree_.radiusSearch(p.data(), reach * reach, found, any);
    index.clear(), square.clear();
    for (const auto& [i, s] : found) index.push_back(i), square.push_back(s);
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
