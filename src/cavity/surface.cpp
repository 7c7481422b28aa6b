// A scanned half with a k-d tree over its points.
#include <algorithm>
#include <cmath>
#include <limits>
#include "cavity/surface_reader.hpp"
#include "core/scan_tree.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

struct Surface::Impl {
  std::vector<Vec3> points;
  Sampling sampling;
  ScanTree tree;
  Impl(std::vector<Vec3> p, const Sampling& s) : points(std::move(p)), sampling(s), tree(points) {}
};

Surface::Surface(std::vector<Vec3> points, const Sampling& sampling) {
  const auto [spacing, noise, shared] = sampling;
  if (points.empty()) throw Error(Fault::input, "surface: no points; give a scan that covers the cavity");
  if (points.size() > std::size_t(std::numeric_limits<int>::max()))
    throw Error(Fault::input, "surface: more than 2147483647 points; thin the scan");
  if (!(spacing > 0) || !std::isfinite(spacing))
    throw Error(Fault::input, "surface: point spacing must be above 0 mm; estimate it from the scan");
  if (!(noise >= 0) || !std::isfinite(noise))
    throw Error(Fault::input, "surface: noise must be 0 mm or more; estimate it from the scan");
  if (!(shared.sigma >= 0) || !(shared.length >= 0) || !std::isfinite(shared.sigma + shared.length))
    throw Error(Fault::input, "surface: shared noise must be 0 mm or more; estimate it from the scan's balls");
  for (const Vec3& p : points)
    if (!p.allFinite()) throw Error(Fault::input, "surface: a point is not finite; clean the scan first");
  points.shrink_to_fit();
  impl_ = std::make_shared<const Impl>(std::move(points), sampling);
}

const std::vector<Vec3>& Surface::points() const { return impl_->points; }
double Surface::spacing() const { return impl_->sampling.spacing; }
double Surface::noise() const { return impl_->sampling.noise; }
const SharedNoise& Surface::shared() const { return impl_->sampling.shared; }

void Surface::within(const Vec3& p, double radius, std::vector<int>& found) const {
  found.clear();
  impl_->tree.within(p, radius * radius, [&](std::uint32_t index, double) { found.push_back(int(index)); });
}

std::size_t SurfaceReader::offsets_within(const Surface& surface, const Vec3& p, double radius,
                                          std::array<std::vector<float>, 3>& xyz) {
  std::size_t count = 0;
  const auto limit = float(radius * radius);
  const auto take = [&](const ScanTree::Box& box, const ScanTree::Block* b, const ScanTree::Block* end) {
    if (const std::size_t room = count + 4 * std::size_t(end - b); xyz[0].size() < room)
      for (auto& list : xyz) list.resize(2 * room);
    float *x = xyz[0].data(), *y = xyz[1].data(), *z = xyz[2].data();
    const Eigen::Vector3f from = ScanTree::seen_from(box, p).cast<float>();
    // Each point is written and only kept where it counts: a branch here would be guessed wrongly at every third.
    for (; b != end; ++b) {
      const ScanTree::Four dx = b->x - from.x(), dy = b->y - from.y(), dz = b->z - from.z(),
                           d2 = dx.square() + dy.square() + dz.square();
      for (int k = 0; k < 4; ++k) {
        x[count] = dx[k], y[count] = dy[k], z[count] = dz[k];
        count += d2[k] < limit;
      }
    }
  };
  surface.impl_->tree.leaves(p, radius * radius, take);
  return count;
}

std::vector<int> Surface::within(const Vec3& p, double radius) const {
  std::vector<std::pair<double, int>> order;
  impl_->tree.within(p, radius * radius, [&](std::uint32_t index, double d2) { order.emplace_back(d2, int(index)); });
  // Equal distances go by index, so that the order never depends on the tree.
  std::sort(order.begin(), order.end());
  std::vector<int> found(order.size());
  std::transform(order.begin(), order.end(), found.begin(), [](const auto& o) { return o.second; });
  return found;
}

Surface::Found Surface::nearest(const Vec3& p) const { return nearest(p, std::numeric_limits<double>::infinity()); }

Surface::Found Surface::nearest(const Vec3& p, double bound) const {
  double bound2 = bound * bound;
  Found found;
  impl_->tree.nearing(p, bound2, [&](std::uint32_t index, double d2) { bound2 = d2, found.index = int(index); });
  if (found.index < 0) return found;
  found.point = impl_->points[std::size_t(found.index)];
  found.distance = (found.point - p).norm();
  return found;
}

}  // namespace gapfront
