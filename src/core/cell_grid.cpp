#include "core/cell_grid.hpp"
#include <algorithm>
#include <bit>
#include <numeric>
#include <tuple>
#include <utility>

namespace gapfront::cells {
namespace {

/// One part a thread, and none too short to be worth one.
std::size_t parts_for(std::size_t n) { return std::clamp<std::size_t>(n >> 16, 1, std::size_t(thread_count())); }

/// Lowest and highest coordinates.
std::pair<Vec3, Vec3> extent_of(const std::vector<Vec3>& points) {
  const std::size_t parts = parts_for(points.size());
  std::vector<std::pair<Vec3, Vec3>> of(parts, {points[0], points[0]});
  parallel_for(
      parts,
      [&](std::size_t k) {
        Vec3 low = points[0], high = low;
        for (std::size_t i = points.size() * k / parts, end = points.size() * (k + 1) / parts; i < end; ++i)
          low = low.cwiseMin(points[i]), high = high.cwiseMax(points[i]);
        of[k] = {low, high};
      },
      1);
  for (const auto& [low, high] : of) of[0] = {of[0].first.cwiseMin(low), of[0].second.cwiseMax(high)};
  return of[0];
}

/// Sorts `order` by keys[order], least significant digit first; stable, so equal keys keep file order.
void radix_sort(std::vector<std::uint64_t>& keys, std::vector<std::uint32_t>& order) {
  std::uint64_t all_or = 0, all_and = ~0ull;
  for (auto k : keys) {
    all_or |= k;
    all_and &= k;
  }
  const std::uint64_t varying = all_or & ~all_and;
  constexpr int kBits = 11;  // 2048 counters fit the first-level cache
  constexpr std::size_t kDigits = std::size_t(1) << kBits;
  const std::size_t n = keys.size();
  const std::size_t parts = parts_for(n);  // a stable sort has one outcome, however it is parted
  std::vector<std::uint64_t> keys2(n);
  std::vector<std::uint32_t> order2(n), count(parts * kDigits);
  constexpr std::uint64_t mask = kDigits - 1;
  for (int shift = 0; shift < 64 && varying >> shift; shift += kBits) {
    shift += std::countr_zero(varying >> shift);  // no pass for bits that are alike in all
    std::fill(count.begin(), count.end(), 0);
    parallel_for(
        parts,
        [&](std::size_t p) {
          std::uint32_t* mine = count.data() + p * kDigits;
          for (std::size_t i = n * p / parts, end = n * (p + 1) / parts; i < end; ++i) ++mine[keys[i] >> shift & mask];
        },
        1);
    std::uint32_t sum = 0;
    for (std::size_t digit = 0; digit < kDigits; ++digit)
      for (std::size_t p = 0; p < parts; ++p) sum += std::exchange(count[p * kDigits + digit], sum);
    parallel_for(
        parts,
        [&](std::size_t p) {
          std::uint32_t* mine = count.data() + p * kDigits;
          for (std::size_t i = n * p / parts, end = n * (p + 1) / parts; i < end; ++i) {
            const std::uint32_t to = mine[keys[i] >> shift & mask]++;
            keys2[to] = keys[i];
            order2[to] = order[i];
          }
        },
        1);
    keys.swap(keys2);
    order.swap(order2);
  }
}

}  // namespace

Grid::Grid(const std::vector<Vec3>& points, double size) : size_(size), low_(Vec3::Zero()) {
  if (points.empty()) {
    starts_ = {0};
    return;
  }
  Vec3 high;
  std::tie(low_, high) = extent_of(points);
  size_ = std::max(size, (high - low_).maxCoeff() / double(1 << 20));
  if (!(size_ > 0)) size_ = 1;  // all points in one place
  std::vector<std::uint64_t> keys(points.size());
  order_.resize(points.size());
  parallel_for(
      points.size(),
      [&](std::size_t i) {
        keys[i] = key_of(points[i]);
        order_[i] = std::uint32_t(i);
      },
      1 << 14);
  radix_sort(keys, order_);
  list_cells(keys);
}

/// Where each key begins, part by part side by side.
void Grid::list_cells(const std::vector<std::uint64_t>& keys) {
  const std::size_t n = keys.size(), parts = parts_for(n);
  std::vector<std::vector<std::uint32_t>> found(parts);
  parallel_for(
      parts,
      [&](std::size_t p) {
        for (std::size_t i = n * p / parts, end = n * (p + 1) / parts; i < end; ++i)
          if (i == 0 || keys[i] != keys[i - 1]) found[p].push_back(std::uint32_t(i));
      },
      1);
  for (const auto& part : found)
    for (const std::uint32_t i : part) starts_.push_back(i), keys_.push_back(keys[i]);
  starts_.push_back(std::uint32_t(n));
}

void Grid::points_in_order() { std::iota(order_.begin(), order_.end(), 0u); }

void Grid::drop(const std::vector<std::uint8_t>& gone) {
  std::size_t kept = 0;
  std::uint32_t left = 0;
  for (std::size_t c = 0; c < keys_.size(); ++c) {
    const std::uint32_t first = starts_[c], end = starts_[c + 1], before = left;
    for (std::uint32_t i = first; i < end; ++i) left += !gone[i];
    if (left == before) continue;
    keys_[kept] = keys_[c], starts_[kept] = before, ++kept;  // kept ≤ c: what is still to be read stays
  }
  starts_[kept] = left;
  keys_.resize(kept), starts_.resize(kept + 1), order_.resize(left);
}

std::uint64_t Grid::key_of(const Vec3& p) const {
  const Vec3 c = ((p - low_) / size_).cwiseMax(0).cwiseMin(double((1 << 20) + 1));
  return (std::uint64_t(c.x()) + 1) * kX + (std::uint64_t(c.y()) + 1) * kY + (std::uint64_t(c.z()) + 1) * kZ;
}

std::size_t Grid::lower_bound(std::uint64_t key) const {
  return std::lower_bound(keys_.begin(), keys_.end(), key) - keys_.begin();
}

void Grid::around(const Vec3& p, std::vector<std::uint32_t>& out) const {
  out.clear();
  const std::uint64_t at = key_of(p);
  for (int c = 0; c < 9; ++c) {
    const std::uint64_t low = at + std::uint64_t(c / 3 - 1) * kX + std::uint64_t(c % 3 - 1) * kY - kZ;
    for (std::size_t k = lower_bound(low); k < cells() && keys_[k] <= low + 2 * kZ; ++k)
      out.insert(out.end(), begin(k), end(k));
  }
}

}  // namespace gapfront::cells
