// All points of a scan around a place: a k-d tree laid out for scans that no cache holds. `PointTree` is the faster one
// for the few nearest; point_tree.hpp says by how much.
#pragma once
#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cstdint>
#include <limits>
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront {

/// Complete binary tree over a copy of the points in its own order, so that a leaf's points lie side by side (a fit
/// reads some ten leaves; in scan order each point would be a miss of the cache). The root is node 1, the children of
/// node i are 2i and 2i + 1, each holds half of its parent's points across the longest side of its box: no links, and
/// whole levels are built in parallel. Some 20 bytes a point.
class ScanTree {
 public:
  /// Four numbers, worked on at once.
  using Four = Eigen::Array4f;

  /// In single precision, so that the boxes of a node's children fit into one line of the cache.
  struct Box {
    Four from = Four::Constant(std::numeric_limits<float>::infinity()), to = -from;
    /// Squared distance of a place whose last number is 0, less a millionth, which covers all rounding but that of the
    /// corners. No branches: every other would be guessed wrong.
    float distance2(const Four& p) const {
      const Four d = (from - p).max(p - to).max(0.0f);
      return (1 - 1e-6f) * d.square().sum();
    }
  };

  /// Four points of a leaf, which fill a line of the cache: relative to the low corner of the leaf's box, and so good
  /// to a nanometre on a leaf of 20 mm. What fills up the last block is infinitely far off.
  struct alignas(64) Block {
    Four x, y, z;
    std::array<std::uint32_t, 4> index;  ///< 32 bits: a scan of more than 2³¹ points does not fit in memory anyhow
  };

  /// Where p is, seen from a leaf's corner.
  static Vec3 seen_from(const Box& box, const Vec3& p) { return p - box.from.head<3>().matrix().cast<double>(); }

  explicit ScanTree(const std::vector<Vec3>&);

  /// Calls f(box, first block, end) for all leaves nearer than √bound2, level by level: what the next level needs is
  /// then on its way from memory side by side, not waited for one by one. Of a large scan hardly any is at hand.
  template <class F>
  void leaves(const Vec3& p, double bound2, F&& f) const {
    thread_local std::vector<std::uint32_t> open(64);
    const Four place = four(p);
    const auto bound = float(bound2);
    std::size_t count = 1, i = 0;
    open[0] = 1;
    for (; i < count && open[i] < leaf0_; ++i) {
      if (open.size() < count + 2) open.resize(2 * open.size());
      const Pair& under = pairs_[open[i]];
      const std::uint32_t child = 2 * open[i];
      for (std::uint32_t side = 0; side < 2; ++side)
        if (under.box[side].distance2(place) < bound) {
          open[count++] = child + side;
          fetch(child + side);
        }
    }
    for (; i < count; ++i) f(box(open[i]), begin(open[i]), begin(open[i] + 1));
  }

  /// Calls f(index, squared distance) for points nearer than √bound2, which f may lessen; near leaves first.
  template <class F>
  void nearing(const Vec3& p, double& bound2, F&& f) const {
    struct Open {
      std::uint32_t node;
      float apart2;
    };
    const Four place = four(p);
    Open open[64];  // one a level waits at most, and the one at work
    int count = 0;
    open[count++] = {1, 0};
    while (count > 0) {
      const Open at = open[--count];
      if (at.apart2 >= bound2) continue;
      if (at.node >= leaf0_) {
        visit(box(at.node), begin(at.node), begin(at.node + 1), p, bound2, f);
        continue;
      }
      const Pair& under = pairs_[at.node];
      const Open a{2 * at.node, under.box[0].distance2(place)}, b{2 * at.node + 1, under.box[1].distance2(place)};
      const bool a_first = a.apart2 <= b.apart2;
      const Open far = a_first ? b : a, near = a_first ? a : b;
      if (far.apart2 < bound2) fetch(far.node);
      fetch(near.node);
      open[count++] = far;
      open[count++] = near;
    }
  }

  /// Calls f(index, squared distance) for all points nearer than √bound2.
  template <class F>
  void within(const Vec3& p, double bound2, F&& f) const {
    leaves(p, bound2, [&](const Box& b, const Block* at, const Block* end) { visit(b, at, end, p, bound2, f); });
  }

 private:
  /// The boxes of a node's children: the way down a large tree is a chain of misses of the cache, one a level.
  struct alignas(64) Pair {
    Box box[2];
  };
  struct Entry;

  static Four four(const Vec3& p) { return {float(p.x()), float(p.y()), float(p.z()), 0}; }

  template <class F>
  static void visit(const Box& box, const Block* b, const Block* end, const Vec3& p, const double& bound2, F&& f) {
    const Vec3 from = seen_from(box, p);
    for (; b != end; ++b) {
      const Eigen::Array4d d2 = (b->x.cast<double>() - from.x()).square() + (b->y.cast<double>() - from.y()).square() +
                                (b->z.cast<double>() - from.z()).square();
      for (int k = 0; k < 4; ++k)
        if (d2[k] < bound2) f(b->index[std::size_t(k)], d2[k]);
    }
  }

  /// Has the processor bring from memory what a node's turn will need.
  void fetch(std::uint32_t node) const {
    if (node < leaf0_)
      __builtin_prefetch(&pairs_[node]);
    else
      for (const Block *b = begin(node), *end = begin(node + 1); b != end; ++b) __builtin_prefetch(b);
  }

  const Box& box(std::uint32_t node) const { return pairs_[node / 2].box[node % 2]; }
  const Block* begin(std::uint32_t leaf) const { return blocks_.data() + first(levels_, leaf - leaf0_); }

  /// Block at which the k-th node of a level begins: halving a range again and again rounds as dividing it at once
  /// does.
  std::size_t first(int level, std::size_t k) const { return (blocks_.size() * k) >> level; }
  void split(std::vector<Entry>&, const std::vector<Vec3>&, int level, std::size_t k);
  void fill(const std::vector<Entry>&, const std::vector<Vec3>&, const Box&, std::size_t begin, std::size_t end);

  int levels_ = 0;
  std::uint32_t leaf0_ = 1;  ///< the first leaf; 2^levels
  std::vector<Pair> pairs_;  ///< by node; the second of node 0 is the root itself
  std::vector<Block> blocks_;
};

}  // namespace gapfront
