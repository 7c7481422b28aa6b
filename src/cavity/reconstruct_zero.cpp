// Signed distance on a sparse grid and its zero set.
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <iterator>
#include <limits>
#include "cavity/reconstruct.hpp"
#include "core/parallel.hpp"

namespace gapfront::cavity {
namespace {

using Key = std::uint64_t;
Key pack(Key x, Key y, Key z) { return (x << 42) | (y << 21) | z; }
std::array<Key, 3> unpack(Key k) { return {k >> 42, (k >> 21) & 0x1fffff, k & 0x1fffff}; }

void sort_unique(std::vector<Key>& keys) {
  std::sort(keys.begin(), keys.end());
  keys.erase(std::unique(keys.begin(), keys.end()), keys.end());
}

/// The keys (sorted, each once) and the same shifted by each of `steps`, sorted, each once: merging keeps the order
/// that a sort of the whole would have to find anew.
std::vector<Key> spread(const std::vector<Key>& keys, std::initializer_list<Key> steps) {
  std::vector<Key> out = keys, shifted(keys.size()), merged;
  for (Key step : steps) {
    std::transform(keys.begin(), keys.end(), shifted.begin(), [&](Key k) { return k + step; });
    merged.clear(), merged.reserve(out.size() + shifted.size() / 2);
    std::set_union(out.begin(), out.end(), shifted.begin(), shifted.end(), std::back_inserter(merged));
    out.swap(merged);
  }
  return out;
}
constexpr Key kStepX = Key(1) << 42, kStepY = Key(1) << 21, kStepZ = 1;

/// Cells that hold a sample, and the 26 around each.
std::vector<Key> band(const std::vector<Vec3>& points, const Vec3& origin, double cell) {
  std::vector<Key> seeds;
  for (const Vec3& p : points) {
    const Vec3 q = (p - origin) / cell;
    seeds.push_back(pack(Key(q.x()), Key(q.y()), Key(q.z())));
  }
  sort_unique(seeds);
  // Adding the two's complement takes one step back; the origin lies three cells off, so that no digit wraps.
  return spread(spread(spread(seeds, {kStepZ, -kStepZ}), {kStepY, -kStepY}), {kStepX, -kStepX});
}

/// The six tetrahedra of a cube around its diagonal (Freudenthal), corners as bit sets, all of positive volume.
constexpr int tetrahedra[6][4] = {{0, 1, 3, 7}, {0, 2, 6, 7}, {0, 4, 5, 7}, {0, 1, 7, 5}, {0, 2, 7, 3}, {0, 4, 7, 6}};

/// Even orders of a tetrahedron's corners for each set of positive corners (bit set), positive ones first.
constexpr int orders[16][4] = {{0, 1, 2, 3}, {0, 1, 2, 3}, {1, 0, 3, 2}, {0, 1, 2, 3}, {2, 3, 0, 1}, {0, 2, 3, 1},
                               {1, 2, 0, 3}, {3, 2, 1, 0}, {3, 2, 1, 0}, {0, 3, 1, 2}, {1, 3, 2, 0}, {2, 3, 0, 1},
                               {2, 3, 0, 1}, {1, 0, 3, 2}, {0, 1, 2, 3}, {0, 1, 2, 3}};

/// A triangle by the edges that its corners lie on: each is named by its lower grid corner and its direction.
using NamedTriangle = std::array<Key, 3>;

struct ZeroGrid {
  std::vector<Key> cells, keys;  ///< of the cells about the samples, and of their corners; both ascend
  std::vector<Vec3> place;       ///< of the corners
  std::vector<int> corner;       ///< eight a cell
};

ZeroGrid zero_grid(const std::vector<Vec3>& points, double h) {
  ZeroGrid g;
  Vec3 origin = points[0];
  for (const Vec3& p : points) origin = origin.cwiseMin(p);
  origin -= Vec3::Constant(3.37 * h);  // off the round numbers on which a machined flat would graze the grid
  g.cells = band(points, origin, h);
  g.keys = spread(spread(spread(g.cells, {kStepZ}), {kStepY}), {kStepX});
  g.place.reserve(g.keys.size());
  for (Key k : g.keys) {
    const auto [x, y, z] = unpack(k);
    g.place.push_back(origin + h * Vec3(double(x), double(y), double(z)));
  }
  g.corner.resize(8 * g.cells.size());
  for (Key b = 0; b < 8; ++b) {
    const Key step = pack(b & 1, b >> 1 & 1, b >> 2);
    std::size_t i = 0;
    for (std::size_t c = 0; c < g.cells.size(); ++c) {
      while (g.keys[i] != g.cells[c] + step) ++i;
      g.corner[8 * c + b] = int(i);
    }
  }
  return g;
}

/// Averaged distance to the tangent planes; NaN out of their reach. The weights fall off within a cell, so that the far
/// wall of a rib does not count; the reach is two cells, as far as a corner of a crossed cell can be from the samples.
std::vector<double> zero_field(const Samples& s, const std::vector<Vec3>& place) {
  const auto& points = s.tree.points();
  std::vector<double> value(place.size(), std::numeric_limits<double>::quiet_NaN());
  const double reach = 2 * std::max(s.cell, s.pitch), scale = 0.7 * std::max(s.cell, s.pitch);
  parallel_for(place.size(), [&](std::size_t i) {
    thread_local std::vector<int> near;
    s.tree.within(place[i], reach, near);
    if (near.empty()) return;
    double closest = reach * reach;
    for (int j : near) closest = std::min(closest, (points[j] - place[i]).squaredNorm());
    double sum = 0, weights = 0;
    for (int j : near) {
      const Vec3 d = place[i] - points[j];
      const double w = std::exp(-(d.squaredNorm() - closest) / (scale * scale));
      sum += w * d.dot(s.normals[j]), weights += w;
    }
    value[i] = sum / weights;
  });
  return value;
}

/// The triangles in which the field is zero, by marching tetrahedra.
std::vector<NamedTriangle> zero_triangles(const ZeroGrid& g, const std::vector<double>& value) {
  std::vector<NamedTriangle> named;
  for (std::size_t c = 0; c < g.cells.size(); ++c) {
    const int* id = &g.corner[8 * c];
    int positive = 0, known = 0;
    for (int b = 0; b < 8; ++b) positive += value[id[b]] >= 0, known += !std::isnan(value[id[b]]);
    if (known < 8 || positive == 0 || positive == 8) continue;
    auto crossing = [&](int a, int b) { return Key(id[a & b]) * 8 + Key(a ^ b); };
    for (const auto& t : tetrahedra) {
      int set = 0;
      for (int k = 0; k < 4; ++k) set |= (value[id[t[k]]] >= 0) << k;
      if (set == 0 || set == 15) continue;
      const int count = (set & 1) + (set >> 1 & 1) + (set >> 2 & 1) + (set >> 3);
      const auto& o = orders[set];
      const int v[4] = {t[o[0]], t[o[1]], t[o[2]], t[o[3]]};
      if (count == 1) {
        named.push_back({crossing(v[0], v[1]), crossing(v[0], v[3]), crossing(v[0], v[2])});
      } else if (count == 3) {  // the odd one out comes first
        named.push_back({crossing(v[0], v[1]), crossing(v[0], v[2]), crossing(v[0], v[3])});
      } else {
        const Key ac = crossing(v[0], v[2]), bc = crossing(v[1], v[2]), bd = crossing(v[1], v[3]),
                  ad = crossing(v[0], v[3]);
        named.push_back({ac, bc, bd});
        named.push_back({ac, bd, ad});
      }
    }
  }
  return named;
}

/// Corners that triangles share become one point each.
Mesh joined_triangles(const ZeroGrid& g, const std::vector<double>& value, const std::vector<NamedTriangle>& named) {
  std::vector<std::uint8_t> crossed(g.place.size(), 0);  // bit d: the edge from here in direction d is crossed
  for (const auto& t : named)
    for (Key k : t) crossed[k / 8] |= std::uint8_t(1u << k % 8);
  std::vector<Key> names;
  std::vector<int> first(g.place.size());
  for (std::size_t i = 0; i < g.place.size(); ++i) {
    first[i] = int(names.size());
    for (Key d = 1; d < 8; ++d)
      if (crossed[i] >> d & 1) names.push_back(8 * i + d);
  }
  Mesh out;
  out.points.resize(names.size());
  parallel_for(names.size(), [&](std::size_t i) {
    const int a = int(names[i] / 8);
    const Key d = names[i] % 8, far = g.keys[a] + pack(d & 1, d >> 1 & 1, d >> 2);
    const int b = int(std::lower_bound(g.keys.begin(), g.keys.end(), far) - g.keys.begin());
    // Kept off the very ends: triangles of no area would have no normal.
    const double t = std::clamp(value[a] / (value[a] - value[b]), 0.05, 0.95);
    out.points[i] = g.place[a] + t * (g.place[b] - g.place[a]);
  });
  auto index = [&](Key k) { return first[k / 8] + std::popcount(unsigned(crossed[k / 8]) & ((1u << k % 8) - 1)); };
  out.triangles.resize(named.size());
  parallel_for(named.size(), [&](std::size_t i) {
    out.triangles[i] = {index(named[i][0]), index(named[i][1]), index(named[i][2])};
  });
  return out;
}

}  // namespace

Mesh zero_set(const Samples& s) {
  const ZeroGrid grid = zero_grid(s.tree.points(), s.cell);
  const std::vector<double> value = zero_field(s, grid.place);
  return joined_triangles(grid, value, zero_triangles(grid, value));
}

}  // namespace gapfront::cavity
