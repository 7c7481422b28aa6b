#include "cavity/sheet_mesh.hpp"
#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <tuple>

#include "core/joined_sets.hpp"

namespace gapfront::cavity {
namespace {

struct Side {
  int low, high, triangle, corner;  // corner k: the side from vertex k to k + 1
  bool operator<(const Side& o) const { return std::tie(low, high, triangle) < std::tie(o.low, o.high, o.triangle); }
};

std::vector<Side> sorted_sides(const Mesh& m) {
  // By counting on the lower vertex, then among its few sides: a plain sort is ten times slower on fine meshes.
  std::vector<std::size_t> first(m.points.size() + 1, 0);
  for (const auto& t : m.triangles)
    for (int k = 0; k < 3; ++k) ++first[std::min(t[k], t[(k + 1) % 3]) + 1];
  std::partial_sum(first.begin(), first.end(), first.begin());
  std::vector<Side> sides(3 * m.triangles.size());
  auto next = first;
  for (int t = 0; t < int(m.triangles.size()); ++t)
    for (int k = 0; k < 3; ++k) {
      const auto [a, b] = std::minmax(m.triangles[t][k], m.triangles[t][(k + 1) % 3]);
      sides[next[a]++] = {a, b, t, k};
    }
  for (std::size_t v = 0; v < m.points.size(); ++v)
    std::sort(sides.begin() + std::ptrdiff_t(first[v]), sides.begin() + std::ptrdiff_t(first[v + 1]));
  return sides;
}

/// See parts_of().
std::vector<int> parts_from(const std::vector<Side>& sides, std::size_t triangles) {
  std::vector<int> part(triangles);
  std::iota(part.begin(), part.end(), 0);
  for (std::size_t i = 1; i < sides.size(); ++i)
    if (sides[i - 1].low == sides[i].low && sides[i - 1].high == sides[i].high)
      join(part, sides[i - 1].triangle, sides[i].triangle);
  for (int t = 0; t < int(part.size()); ++t) part[t] = root(part, t);
  return part;
}

/// Joined sets of the triangles' corners 3 t + k that share a vertex across a side.
std::vector<int> joined_corners(const std::vector<Side>& sides, std::size_t triangles) {
  std::vector<int> fan(3 * triangles);
  std::iota(fan.begin(), fan.end(), 0);
  for (std::size_t i = 1; i < sides.size(); ++i) {
    const Side &a = sides[i - 1], &b = sides[i];
    if (a.low != b.low || a.high != b.high) continue;
    const int a0 = 3 * a.triangle + a.corner, a1 = 3 * a.triangle + (a.corner + 1) % 3;
    const int b0 = 3 * b.triangle + b.corner, b1 = 3 * b.triangle + (b.corner + 1) % 3;
    join(fan, a0, b1), join(fan, a1, b0);
  }
  return fan;
}

}  // namespace

std::vector<Vec3> vertex_normals(const Mesh& m) {
  std::vector<Vec3> out(m.points.size(), Vec3::Zero());
  for (const auto& t : m.triangles) {
    const Vec3 n = (m.points[t[1]] - m.points[t[0]]).cross(m.points[t[2]] - m.points[t[0]]);
    if (n.norm() == 0) continue;
    for (int k = 0; k < 3; ++k) {
      const Vec3 a = m.points[t[(k + 1) % 3]] - m.points[t[k]], b = m.points[t[(k + 2) % 3]] - m.points[t[k]];
      out[t[k]] += std::atan2(a.cross(b).norm(), a.dot(b)) * n.normalized();
    }
  }
  for (Vec3& n : out) n = n.norm() > 0 ? Vec3(n.normalized()) : Vec3(Vec3::UnitZ());
  return out;
}

std::vector<Vec3> quick_normals(const Mesh& m) {
  std::vector<Vec3> out(m.points.size(), Vec3::Zero());
  for (const auto& t : m.triangles) {
    const Vec3 n = (m.points[t[1]] - m.points[t[0]]).cross(m.points[t[2]] - m.points[t[0]]);
    for (int v : t) out[v] += n;
  }
  for (Vec3& n : out) n = n.squaredNorm() > 0 ? Vec3(n.normalized()) : Vec3(Vec3::UnitZ());
  return out;
}

std::vector<std::vector<int>> boundary_loops(const Mesh& m) {
  const auto sides = sorted_sides(m);
  std::map<int, int> next;
  for (std::size_t i = 0, j; i < sides.size(); i = j) {
    for (j = i + 1; j < sides.size() && sides[j].low == sides[i].low && sides[j].high == sides[i].high;) ++j;
    if (j - i == 1) {
      const auto& t = m.triangles[sides[i].triangle];
      next[t[sides[i].corner]] = t[(sides[i].corner + 1) % 3];
    }
  }
  std::vector<std::vector<int>> loops;
  while (!next.empty()) {
    std::vector<int> loop;
    for (auto it = next.begin(); it != next.end();) {
      const int to = it->second;
      loop.push_back(it->first);
      next.erase(it);
      it = next.find(to);
    }
    loops.push_back(std::move(loop));
  }
  return loops;
}

void drop_unused(Mesh& m, std::vector<char>& mark) {
  std::vector<int> to(m.points.size(), -1);
  for (const auto& t : m.triangles)
    for (int v : t) to[v] = 0;
  int n = 0;
  for (std::size_t i = 0; i < to.size(); ++i)
    if (to[i] == 0) m.points[n] = m.points[i], mark[n] = mark[i], to[i] = n++;
  m.points.resize(n), mark.resize(n);
  for (auto& t : m.triangles)
    for (int& v : t) v = to[v];
}

void clip(Mesh& m, const std::vector<double>& field, std::vector<char>& mark, char tag) {
  std::vector<std::pair<int, int>> cuts;  // kept vertex, dropped vertex
  auto kept = [&](int v) { return field[v] < 0; };
  for (const auto& t : m.triangles)
    for (int k = 0; k < 3; ++k) {
      const int a = t[k], b = t[(k + 1) % 3];
      if (kept(a) != kept(b)) cuts.push_back(kept(a) ? std::pair{a, b} : std::pair{b, a});
    }
  std::sort(cuts.begin(), cuts.end());
  cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
  const int first = int(m.points.size());
  for (const auto& [a, b] : cuts) {
    // Kept off the very ends: triangles of no area would have no normal.
    const double s = std::clamp(field[a] / (field[a] - field[b]), 0.02, 0.98);
    m.points.push_back(m.points[a] + s * (m.points[b] - m.points[a]));
    mark.push_back(tag);
  }
  auto cut = [&](int a, int b) {
    return first + int(std::lower_bound(cuts.begin(), cuts.end(), std::pair{a, b}) - cuts.begin());
  };
  std::vector<std::array<int, 3>> out;
  for (const auto& t : m.triangles) {
    const int count = kept(t[0]) + kept(t[1]) + kept(t[2]);
    if (count == 3) out.push_back(t);
    if (count != 1 && count != 2) continue;
    int k = 0;  // the odd one out
    while (kept(t[k]) != (count == 1)) ++k;
    const int a = t[k], b = t[(k + 1) % 3], c = t[(k + 2) % 3];
    if (count == 1) {
      out.push_back({a, cut(a, b), cut(a, c)});
    } else {
      out.push_back({b, c, cut(c, a)});
      out.push_back({b, cut(c, a), cut(b, a)});
    }
  }
  m.triangles = std::move(out);
  drop_unused(m, mark);
}

std::vector<int> parts_of(const Mesh& m) { return parts_from(sorted_sides(m), m.triangles.size()); }

std::vector<int> fans_of(const Mesh& m) {
  std::vector<int> fan = joined_corners(sorted_sides(m), m.triangles.size());
  for (int c = 0; c < int(fan.size()); ++c) fan[c] = root(fan, c);
  return fan;
}

void keep_largest(Mesh& m, std::vector<char>& mark) {
  const auto sides = sorted_sides(m);
  const std::vector<int> part = parts_from(sides, m.triangles.size());
  std::vector<int> fan = joined_corners(sides, m.triangles.size());
  std::vector<double> area(part.size(), 0);
  for (int t = 0; t < int(part.size()); ++t) {
    const auto& v = m.triangles[t];
    area[part[t]] += (m.points[v[1]] - m.points[v[0]]).cross(m.points[v[2]] - m.points[v[0]]).norm();
  }
  const int best = area.empty() ? 0 : int(std::max_element(area.begin(), area.end()) - area.begin());
  // One vertex per fan: where fans meet in a point only, the point is doubled.
  std::vector<int> owner(m.points.size(), -1), named(fan.size(), -1);
  std::vector<std::array<int, 3>> out;
  for (int t = 0; t < int(part.size()); ++t) {
    if (part[t] != best) continue;
    auto v = m.triangles[t];
    for (int k = 0; k < 3; ++k) {
      const int f = root(fan, 3 * t + k);
      if (named[f] < 0) {
        if (owner[v[k]] < 0) {
          named[f] = v[k];
        } else {
          named[f] = int(m.points.size());
          m.points.push_back(Vec3(m.points[v[k]]));
          mark.push_back(mark[v[k]]);
        }
        owner[v[k]] = f;
      }
      v[k] = named[f];
    }
    out.push_back(v);
  }
  m.triangles = std::move(out);
  drop_unused(m, mark);
}

Vec3 middle_one(const std::vector<Vec3>& places) {
  Vec3 mean = Vec3::Zero();
  for (const Vec3& p : places) mean += p / double(places.size());
  return *std::min_element(places.begin(), places.end(), [&](const Vec3& a, const Vec3& b) {
    return (a - mean).squaredNorm() < (b - mean).squaredNorm();
  });
}

Vec3 loop_area(const std::vector<Vec3>& loop) {
  Vec3 sum = Vec3::Zero();
  for (std::size_t i = 0; i < loop.size(); ++i) sum += (loop[i] - loop[0]).cross(loop[(i + 1) % loop.size()] - loop[0]);
  return 0.5 * sum;
}

}  // namespace gapfront::cavity
