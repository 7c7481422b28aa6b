// Points sorted into cubic cells, for what goes over all points. Building is linear (radix sort), it takes 12 bytes
// per point, and walking all cells with their neighbours needs no hashing.
#pragma once
#include <cstdint>
#include <vector>
#include "core/parallel.hpp"
#include "gapfront/geometry.hpp"

namespace gapfront::cells {

class Grid {
 public:
  /// Cells of about `size` mm; made larger when the extent would need more than 2^20 cells along an axis.
  Grid(const std::vector<Vec3>& points, double size);

  /// The same cells for the same points once they stand in the grid's own order.
  void points_in_order();
  /// The same cells for what is left of points in the grid's own order; those flagged are gone, and cells of no others.
  void drop(const std::vector<std::uint8_t>& gone);

  double size() const { return size_; }
  std::size_t cells() const { return keys_.size(); }
  std::uint64_t key(std::size_t cell) const { return keys_[cell]; }
  std::uint64_t key_of(const Vec3& p) const;
  /// Points of a cell, in file order.
  const std::uint32_t* begin(std::size_t cell) const { return order_.data() + starts_[cell]; }
  const std::uint32_t* end(std::size_t cell) const { return order_.data() + starts_[cell + 1]; }
  /// Index of the first cell with a key not below `key`.
  std::size_t lower_bound(std::uint64_t key) const;

  /// Keys add: a step along an axis is a constant difference (cells start at 1, so that a step down never borrows).
  static constexpr std::uint64_t kX = 1ull << 42, kY = 1ull << 21, kZ = 1;

  /// Calls f(cell, around) for every cell in parallel; `around` holds the points of the 27 cells at and about it.
  template <class F>
  void for_each_cell(F&& f) const {
    // Blocks long enough that nine binary searches at their start do not count.
    constexpr std::size_t block = 512;
    parallel_for((cells() + block - 1) / block,
                 [&](std::size_t b) {
                   const std::size_t first = b * block, last = std::min(cells(), first + block);
                   std::vector<std::uint32_t> around;
                   std::size_t cursor[9];
                   std::uint64_t shift[9];
                   for (int c = 0; c < 9; ++c) {
                     shift[c] = std::uint64_t(c / 3 - 1) * kX + std::uint64_t(c % 3 - 1) * kY - kZ;  // wraps, as meant
                     cursor[c] = lower_bound(keys_[first] + shift[c]);
                   }
                   for (std::size_t cell = first; cell < last; ++cell) {
                     around.clear();
                     for (int c = 0; c < 9; ++c) {
                       const std::uint64_t low = keys_[cell] + shift[c];
                       while (cursor[c] < cells() && keys_[cursor[c]] < low) ++cursor[c];
                       for (std::size_t k = cursor[c]; k < cells() && keys_[k] <= low + 2 * kZ; ++k)
                         around.insert(around.end(), begin(k), end(k));
                     }
                     f(cell, around);
                   }
                 },
                 1);
  }

  /// Points of the 27 cells at and about the cell of p.
  void around(const Vec3& p, std::vector<std::uint32_t>& out) const;

 private:
  void list_cells(const std::vector<std::uint64_t>& keys);

  double size_;
  Vec3 low_;
  std::vector<std::uint32_t> order_, starts_;
  std::vector<std::uint64_t> keys_;
};

}  // namespace gapfront::cells
