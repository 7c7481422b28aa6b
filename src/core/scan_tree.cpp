#include "core/scan_tree.hpp"

#include <bit>
#include <cmath>

#include "core/parallel.hpp"

namespace gapfront {

namespace {

/// Points per leaf. A fit asks for 50–150 points at once, so leaves of up to 24 cost little in needless distances.
constexpr std::size_t kLeafPoints = 24;

/// The corners are those of rounded places: half a unit in the last place, of which this is eight.
ScanTree::Box rounded_out(ScanTree::Box box) {
  for (int k = 0; k < 3; ++k) {
    const float most = std::max(std::abs(box.from[k]), std::abs(box.to[k]));
    box.from[k] -= 4 * std::numeric_limits<float>::epsilon() * most;
    box.to[k] += 4 * std::numeric_limits<float>::epsilon() * most;
  }
  box.from[3] = box.to[3] = 0;
  return box;
}

}  // namespace

/// While the tree is built: a place to single precision, and as its fourth number the bits of the index.
struct alignas(16) ScanTree::Entry {
  float p[4];
  Eigen::Map<const Four, Eigen::Aligned16> four() const { return Eigen::Map<const Four, Eigen::Aligned16>(p); }
  std::uint32_t index() const { return std::bit_cast<std::uint32_t>(p[3]); }
};

ScanTree::ScanTree(const std::vector<Vec3>& points) : blocks_((points.size() + 3) / 4) {
  while ((points.size() >> levels_) > kLeafPoints) ++levels_;
  leaf0_ = std::uint32_t(1) << levels_;
  pairs_.resize(leaf0_);
  std::vector<Entry> order(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Eigen::Vector3f p = points[i].cast<float>();
    order[i] = {{p.x(), p.y(), p.z(), std::bit_cast<float>(std::uint32_t(i))}};
  }
  for (int level = 0; level <= levels_; ++level)
    parallel_for(
        std::size_t(1) << level, [&](std::size_t k) { split(order, points, level, k); }, 1);
}

void ScanTree::split(std::vector<Entry>& order, const std::vector<Vec3>& points, int level, std::size_t k) {
  const auto clipped = [&](std::size_t block) { return std::min(4 * block, order.size()); };
  const std::size_t begin = clipped(first(level, k)), end = clipped(first(level, k + 1));
  Box box;
  for (std::size_t i = begin; i < end; ++i) {
    const Four p = order[i].four();
    box.from = box.from.min(p), box.to = box.to.max(p);
  }
  box = rounded_out(box);
  const std::size_t node = (std::size_t(1) << level) + k;
  pairs_[node / 2].box[node % 2] = box;
  if (level == levels_) return fill(order, points, box, begin, end);
  Eigen::Index axis;
  (box.to - box.from).head<3>().maxCoeff(&axis);
  const auto at = [&](std::size_t i) { return order.begin() + std::ptrdiff_t(i); };
  std::nth_element(at(begin), at(clipped(first(level + 1, 2 * k + 1))), at(end),
                   [axis](const Entry& a, const Entry& b) { return a.p[axis] < b.p[axis]; });
}

/// A leaf's points, each from its exact place.
void ScanTree::fill(const std::vector<Entry>& order, const std::vector<Vec3>& points, const Box& box, std::size_t begin,
                    std::size_t end) {
  for (std::size_t i = begin; i < end; ++i) __builtin_prefetch(&points[order[i].index()]);
  for (std::size_t i = begin; i < end; ++i) {
    const Eigen::Vector3f p = seen_from(box, points[order[i].index()]).cast<float>();
    const auto k = Eigen::Index(i % 4);
    Block& b = blocks_[i / 4];
    b.x[k] = p.x(), b.y[k] = p.y(), b.z[k] = p.z();
    b.index[i % 4] = order[i].index();
  }
  for (std::size_t i = end; i % 4 != 0; ++i) {
    Block& b = blocks_[i / 4];
    const auto k = Eigen::Index(i % 4);
    b.x[k] = b.y[k] = b.z[k] = std::numeric_limits<float>::infinity();
  }
}

}  // namespace gapfront
