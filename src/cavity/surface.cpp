// A scanned half with a k-d tree over its points.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"
#include "geometry/parallel.hpp"

namespace gapfront {

namespace {

/// Points per leaf. A fit asks for 50–150 points at once, so leaves of up to 24 cost little in needless distances.
constexpr std::size_t leaf_points = 24;

struct Entry {
  Vec3 point;
  std::uint32_t index;  ///< 32 bits: a scan of more than 2³¹ points does not fit in memory anyhow
};

/// In single precision, rounded outward: the way down a large tree is a chain of misses of the cache, and so the boxes
/// of both children come with one.
struct Box {
  float from[3], to[3];
  explicit Box(const Eigen::AlignedBox3d& b = {}) {
    constexpr float infinity = std::numeric_limits<float>::infinity();
    for (int k = 0; k < 3; ++k) {
      from[k] = std::nextafter(float(b.min()[k]), -infinity);
      to[k] = std::nextafter(float(b.max()[k]), infinity);
    }
  }
  /// Squared distance of p. No branches: every other would be guessed wrong.
  double distance2(const Vec3& p) const {
    double sum = 0;
    for (int k = 0; k < 3; ++k) {
      const double d = std::max(std::max(from[k] - p[k], p[k] - to[k]), 0.0);
      sum += d * d;
    }
    return sum;
  }
};

/// Complete binary tree over a copy of the points in its own order, so that a leaf's points lie side by side (a fit
/// reads some ten leaves; in scan order each point would be a miss of the cache). Nodes are numbered by level, each
/// splits its range in half along the longest side of its box: no links, and whole levels are built in parallel. Some
/// 38 bytes a point.
class Tree {
 public:
  explicit Tree(const std::vector<Vec3>& points) : entries_(points.size()) {
    for (std::size_t i = 0; i < points.size(); ++i) entries_[i] = {points[i], std::uint32_t(i)};
    while ((points.size() >> levels_) > leaf_points) ++levels_;
    boxes_.resize((std::size_t(2) << levels_) - 1);
    for (int level = 0; level <= levels_; ++level)
      parallel_for(
          std::size_t(1) << level, [&](std::size_t k) { split(level, k); }, 1);
  }

  /// Calls f(first entry, end) for all leaves nearer than √bound2, which f may lessen; near leaves first.
  template <class F>
  void leaves(const Vec3& p, const double& bound2, F&& f) const {
    struct Open {
      int level;
      std::size_t number;
      double apart2;
    };
    Open open[64];  // one a level waits at most, and the one at work
    int count = 0;
    open[count++] = {0, 0, boxes_[0].distance2(p)};
    while (count > 0) {
      const Open at = open[--count];
      if (at.apart2 >= bound2) continue;
      if (at.level == levels_) {
        f(entries_.data() + first(at.level, at.number), entries_.data() + first(at.level, at.number + 1));
        continue;
      }
      const std::size_t child = 2 * at.number, base = (std::size_t(2) << at.level) - 1;
      const Open a{at.level + 1, child, boxes_[base + child].distance2(p)},
          b{at.level + 1, child + 1, boxes_[base + child + 1].distance2(p)};
      if (a.level == levels_)
        for (const Open& leaf : {a, b})
          if (leaf.apart2 < bound2) fetch(leaf.number);
      const bool a_first = a.apart2 <= b.apart2;
      open[count++] = a_first ? b : a;
      open[count++] = a_first ? a : b;
    }
  }

  /// Calls f(entry, squared distance) for all points nearer than √bound2, which f may lessen.
  template <class F>
  void visit(const Vec3& p, double& bound2, F&& f) const {
    leaves(p, bound2, [&](const Entry* e, const Entry* end) {
      for (; e != end; ++e)
        if (const double d2 = (e->point - p).squaredNorm(); d2 < bound2) f(*e, d2);
    });
  }

 private:
  /// Has the processor bring a leaf's points from memory while the way to them is still being found: of a large scan
  /// hardly any are at hand.
  void fetch(std::size_t leaf) const {
    const char *at = reinterpret_cast<const char*>(entries_.data() + first(levels_, leaf)),
               *end = reinterpret_cast<const char*>(entries_.data() + first(levels_, leaf + 1));
    for (; at < end; at += 64) __builtin_prefetch(at);
  }

  /// Where node k of a level begins: halving a range again and again rounds the same way as dividing it at once.
  std::size_t first(int level, std::size_t k) const { return (entries_.size() * k) >> level; }

  void split(int level, std::size_t k) {
    const auto from = entries_.begin() + std::ptrdiff_t(first(level, k)),
               to = entries_.begin() + std::ptrdiff_t(first(level, k + 1));
    Eigen::AlignedBox3d box;
    for (auto e = from; e != to; ++e) box.extend(e->point);
    boxes_[(std::size_t(1) << level) - 1 + k] = Box(box);
    if (level == levels_) return;
    Eigen::Index axis;
    box.sizes().maxCoeff(&axis);
    std::nth_element(from, entries_.begin() + std::ptrdiff_t(first(level + 1, 2 * k + 1)), to,
                     [axis](const Entry& a, const Entry& b) { return a.point[axis] < b.point[axis]; });
  }

  std::vector<Entry> entries_;
  std::vector<Box> boxes_;
  int levels_ = 0;
};

}  // namespace

struct Surface::Impl {
  std::vector<Vec3> points;
  double spacing, noise;
  Tree tree;
  Impl(std::vector<Vec3> p, double s, double n) : points(std::move(p)), spacing(s), noise(n), tree(points) {}
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

const std::vector<Vec3>& Surface::points() const { return impl_->points; }
double Surface::spacing() const { return impl_->spacing; }
double Surface::noise() const { return impl_->noise; }

void Surface::within(const Vec3& p, double radius, std::vector<int>& found) const {
  found.clear();
  double bound2 = radius * radius;
  impl_->tree.visit(p, bound2, [&](const Entry& e, double) { found.push_back(int(e.index)); });
}

std::size_t Surface::offsets_within(const Vec3& p, double radius, std::array<std::vector<float>, 3>& xyz) const {
  std::size_t count = 0;
  const double bound2 = radius * radius;
  impl_->tree.leaves(p, bound2, [&](const Entry* e, const Entry* end) {
    if (const std::size_t room = count + std::size_t(end - e); xyz[0].size() < room)
      for (auto& list : xyz) list.resize(2 * room);
    float *x = xyz[0].data(), *y = xyz[1].data(), *z = xyz[2].data();
    // Each point is written and only kept where it counts: a branch here would be guessed wrongly at every third.
    for (; e != end; ++e) {
      const double dx = e->point.x() - p.x(), dy = e->point.y() - p.y(), dz = e->point.z() - p.z();
      x[count] = float(dx), y[count] = float(dy), z[count] = float(dz);
      count += dx * dx + dy * dy + dz * dz < bound2;
    }
  });
  return count;
}

std::vector<int> Surface::within(const Vec3& p, double radius) const {
  std::vector<std::pair<double, int>> order;
  double bound2 = radius * radius;
  impl_->tree.visit(p, bound2, [&](const Entry& e, double d2) { order.emplace_back(d2, int(e.index)); });
  // Equal distances go by index, so that the order never depends on the tree.
  std::sort(order.begin(), order.end());
  std::vector<int> found(order.size());
  std::transform(order.begin(), order.end(), found.begin(), [](const auto& o) { return o.second; });
  return found;
}

std::pair<int, double> Surface::nearest(const Vec3& p) const {
  return nearest(p, std::numeric_limits<double>::infinity());
}

std::pair<int, double> Surface::nearest(const Vec3& p, double bound) const {
  double bound2 = bound * bound;
  int index = -1;
  impl_->tree.visit(p, bound2, [&](const Entry& e, double d2) { bound2 = d2, index = int(e.index); });
  return {index, std::sqrt(bound2)};
}

}  // namespace gapfront
