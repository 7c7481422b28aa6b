// Signed distance on a sparse grid and its zero set.
#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <iterator>
#include <limits>
#include <utility>
#include <vector>
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

/// Corners of a cube, x + 2 y + 4 z; its faces, seen from outside counter-clockwise.
constexpr int kFaces[6][4] = {{0, 4, 6, 2}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 2, 3, 1}, {4, 5, 7, 6}};

/// An edge of a cube by its two ends, the lower one first.
struct CubeEdge {
  int from, to;
  friend bool operator==(const CubeEdge&, const CubeEdge&) = default;
};
using CubeTriangle = std::array<CubeEdge, 3>;

/// Do both lie on one face of the cube?
bool share_face(const CubeEdge& a, const CubeEdge& b) {
  const int low = a.from & a.to & b.from & b.to, high = a.from | a.to | b.from | b.to;
  return low != 0 || high != 7;  // a coordinate that is 1, or 0, at all four ends
}

/// On each face of a cube whose corners in the bit set `positive` are positive: from the edge on which one runs out of
/// positive corners, counter-clockwise, back to the one on which one came in. Positive corners that lie across from
/// each other are kept apart: the cube beyond sees the same four signs and does the same, so that nothing gapes.
std::vector<std::pair<CubeEdge, CubeEdge>> face_cuts(int positive) {
  std::vector<std::pair<CubeEdge, CubeEdge>> out;
  const auto edge = [](int a, int b) { return CubeEdge{std::min(a, b), std::max(a, b)}; };
  for (const auto& f : kFaces) {
    const auto at = [&](int k) { return f[k % 4]; };
    const auto set = [&](int k) { return (positive >> at(k) & 1) != 0; };
    for (int k = 0; k < 4; ++k) {
      if (set(k) || !set(k + 1)) continue;
      int last = k + 1;
      while (set(last + 1)) ++last;
      out.emplace_back(edge(at(last), at(last + 1)), edge(at(k), at(k + 1)));
    }
  }
  return out;
}

/// Triangles that part the positive corners of a cube from the others, seen counter-clockwise from the positive side
/// (marching cubes, Lorensen and Cline 1987, from memory). Each loop of cuts, seven at the most, is a fan around a
/// corner from which no side runs within a face: two cubes could have such a side in common, and four triangles at it.
std::vector<CubeTriangle> triangles_for(int positive) {
  std::vector<CubeTriangle> out;
  for (auto cuts = face_cuts(positive); !cuts.empty();) {
    std::vector<CubeEdge> loop{cuts.back().first};
    for (auto next = cuts.end() - 1; next != cuts.end();
         next = std::find_if(cuts.begin(), cuts.end(), [&](const auto& c) { return c.first == loop.back(); })) {
      loop.push_back(next->second);
      cuts.erase(next);
    }
    loop.pop_back();  // the first again
    const std::size_t n = loop.size();
    const auto from = [&](std::size_t k, std::size_t on) { return loop[(k + on) % n]; };
    std::size_t middle = 0;
    const auto clear = [&](std::size_t k) {
      for (std::size_t on = 2; on + 1 < n; ++on)
        if (share_face(loop[k], from(k, on))) return false;
      return true;
    };
    while (!clear(middle)) ++middle;  // there is one in each of the 256 cases
    for (std::size_t on = 1; on + 1 < n; ++on) out.push_back({from(middle, 0), from(middle, on), from(middle, on + 1)});
  }
  return out;
}

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

/// The triangles in which the field is zero.
std::vector<NamedTriangle> zero_triangles(const ZeroGrid& g, const std::vector<double>& value) {
  std::array<std::vector<CubeTriangle>, 256> cases;
  for (int set = 1; set < 255; ++set) cases[std::size_t(set)] = triangles_for(set);
  std::vector<NamedTriangle> named;
  for (std::size_t c = 0; c < g.cells.size(); ++c) {
    const int* id = &g.corner[8 * c];
    unsigned positive = 0;
    int known = 0;
    for (int b = 0; b < 8; ++b) positive |= unsigned(value[id[b]] >= 0) << b, known += !std::isnan(value[id[b]]);
    if (known < 8) continue;
    const auto name = [&](const CubeEdge& e) { return Key(id[e.from]) * 8 + Key(e.from ^ e.to); };
    for (const CubeTriangle& t : cases[positive]) named.push_back({name(t[0]), name(t[1]), name(t[2])});
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
    for (Key d : {1, 2, 4})
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
