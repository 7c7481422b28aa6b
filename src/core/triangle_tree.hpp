// Nearest point of a triangle mesh: a binary tree of boxes, split at the median of the longest side.
#pragma once
#include <limits>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

class TriangleTree {
 public:
  /// The mesh must outlive the tree.
  explicit TriangleTree(const Mesh&);
  struct Hit {
    int triangle = -1;  ///< −1: nothing nearer than the bound
    Vec3 point = Vec3::Zero();
    double distance = 0;
  };
  Hit nearest(const Vec3& p, double bound = std::numeric_limits<double>::infinity()) const;

 private:
  struct Node {
    Eigen::AlignedBox3d box;
    int first, last, right;  // triangles [first, last) of a leaf; right: index of the second child, 0 for a leaf
  };
  int build(int first, int last);
  const Mesh& mesh_;
  std::vector<int> order_;
  std::vector<Vec3> middle_;
  std::vector<Node> nodes_;
};

}  // namespace gapfront
