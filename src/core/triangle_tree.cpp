#include "core/triangle_tree.hpp"

#include <algorithm>
#include <numeric>

#include "core/segment.hpp"

namespace gapfront {
namespace {

constexpr int kLeafTriangles = 4;  // testing four costs about what opening two more boxes would

Vec3 on_triangle(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c) {
  const Vec3 n = (b - a).cross(c - a);
  // The foot on the plane, if it lies inside all three sides; else the nearest place on a side.
  if (n.squaredNorm() > 0 && (b - a).cross(p - a).dot(n) >= 0 && (c - b).cross(p - b).dot(n) >= 0 &&
      (a - c).cross(p - c).dot(n) >= 0)
    return p - (p - a).dot(n) / n.squaredNorm() * n;
  Vec3 best = nearest_on_segment(p, a, b);
  for (const Vec3& q : {nearest_on_segment(p, b, c), nearest_on_segment(p, c, a)})
    if ((q - p).squaredNorm() < (best - p).squaredNorm()) best = q;
  return best;
}

}  // namespace

TriangleTree::TriangleTree(const Mesh& mesh) : mesh_(mesh), order_(mesh.triangles.size()) {
  std::iota(order_.begin(), order_.end(), 0);
  for (const auto& t : mesh.triangles)
    middle_.push_back((mesh.points[t[0]] + mesh.points[t[1]] + mesh.points[t[2]]) / 3);
  if (!order_.empty()) build(0, int(order_.size()));
}

int TriangleTree::build(int first, int last) {
  const int self = int(nodes_.size());
  nodes_.push_back({{}, first, last, 0});
  Eigen::AlignedBox3d box, middles;
  for (int k = first; k < last; ++k) {
    for (int v : mesh_.triangles[order_[k]]) box.extend(mesh_.points[v]);
    middles.extend(middle_[order_[k]]);
  }
  nodes_[self].box = box;
  if (last - first <= kLeafTriangles) return self;
  Eigen::Index axis;
  middles.sizes().maxCoeff(&axis);
  const int half = (first + last) / 2;
  // Equal middles go by number: the tree is the same with every library.
  std::nth_element(order_.begin() + first, order_.begin() + half, order_.begin() + last,
                   [&](int a, int b) { return std::pair(middle_[a][axis], a) < std::pair(middle_[b][axis], b); });
  build(first, half);
  const int right = build(half, last);
  nodes_[self].right = right;
  return self;
}

TriangleTree::Hit TriangleTree::nearest(const Vec3& p, double bound) const {
  Hit hit;
  hit.distance = bound;
  if (nodes_.empty()) return hit;
  std::vector<int> open{0};
  while (!open.empty()) {
    const int at = open.back();
    open.pop_back();
    const Node& node = nodes_[at];
    if (node.box.exteriorDistance(p) >= hit.distance) continue;
    if (node.right == 0) {
      for (int k = node.first; k < node.last; ++k) {
        const auto& t = mesh_.triangles[order_[k]];
        const Vec3 q = on_triangle(p, mesh_.points[t[0]], mesh_.points[t[1]], mesh_.points[t[2]]);
        if (const double d = (q - p).norm(); d < hit.distance) hit = {order_[k], q, d};
      }
      continue;
    }
    // The nearer child is looked at first.
    const bool left_first = nodes_[at + 1].box.exteriorDistance(p) <= nodes_[node.right].box.exteriorDistance(p);
    open.push_back(left_first ? node.right : at + 1);
    open.push_back(left_first ? at + 1 : node.right);
  }
  return hit;
}

}  // namespace gapfront
