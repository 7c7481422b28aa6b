#include "correct/over_face.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <queue>
#include <set>

#include "core/segment.hpp"

namespace gapfront::correct {
namespace {

// Points on each edge: with four, ways are found whose length is within a per cent, so that pulling them taut ends in
// the shortest one.
constexpr int kOnEdge = 4;
// A sweep passes a change on by one edge, so n edges need some n² sweeps; a tape crosses a hundred.
constexpr int kSweeps = 5000;
// To see whether the other side of a node is the shorter one the places nearby tell enough.
constexpr int kFewSweeps = 60;
constexpr double kInfinite = std::numeric_limits<double>::infinity();

/// Whether the plan segments a–b and c–d cross inside both.
bool cross_in_plan(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  const auto side = [](const Vec3& p, const Vec3& q, const Vec3& r) {
    return (q.x() - p.x()) * (r.y() - p.y()) - (q.y() - p.y()) * (r.x() - p.x());
  };
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/// Where on the line from a along d a taut line from p to q crosses it, both folded into one plane about it.
double taut(const Vec3& a, const Vec3& d, const Vec3& p, const Vec3& q) {
  const double n = d.squaredNorm();
  const double s = (p - a).dot(d) / n, t = (q - a).dot(d) / n;
  const double hp = (p - a - s * d).norm(), hq = (q - a - t * d).norm();
  return hp + hq > 0 ? s + (t - s) * hp / (hp + hq) : s;
}

}  // namespace

OverFace::OverFace(const Mesh& m) : mesh_(m), of_(m.triangles.size()), around_(m.points.size()) {
  std::map<std::pair<int, int>, int> number;
  for (int t = 0; t < static_cast<int>(m.triangles.size()); ++t)
    for (int k = 0; k < 3; ++k) {
      const int i = m.triangles[t][(k + 1) % 3], j = m.triangles[t][(k + 2) % 3];
      const auto [it, fresh] = number.insert({std::minmax(i, j), static_cast<int>(edges_.size())});
      if (fresh)
        edges_.push_back({std::min(i, j), std::max(i, j), t, -1});
      else
        edges_[it->second].right = t;
      of_[t][k] = it->second;
      around_[m.triangles[t][k]].push_back(t);
    }
  for (int e = 0; e < static_cast<int>(edges_.size()); ++e)
    if (edges_[e].right < 0) rim_.push_back(e);
  for (const Edge& e : edges_)
    for (int j = 0; j < kOnEdge; ++j) points_.push_back(e.at(mesh_, (j + 0.5) / kOnEdge));
}

OverFace::Field OverFace::spread(const TapeFrom& from) const {
  const int count = kOnEdge * static_cast<int>(edges_.size());
  Field f{std::vector<double>(count, kInfinite), std::vector<int>(count, -1), {}};
  std::priority_queue<std::pair<double, int>, std::vector<std::pair<double, int>>, std::greater<>> open;
  const auto reach = [&](int p, double d, int before) {
    if (d < f.far[p]) f.far[p] = d, f.before[p] = before, open.push({d, p});
  };
  if (from.node >= 0)
    for (const int t : around_[from.node])
      for (int k = 0; k < 3; ++k)
        if (mesh_.triangles[t][k] == from.node)
          for (int j = 0; j < kOnEdge; ++j) {
            const int p = of_[t][k] * kOnEdge + j;
            reach(p, (point(p) - mesh_.points[from.node]).norm(), -1);
          }
  for (const int e : from.edges)
    for (int j = 0; j < kOnEdge; ++j) reach(e * kOnEdge + j, 0, -1);
  for (const Vec3& place : from.outside)
    for (const int e : rim_) {
      // Not across the face: that way the tape would leave it or dive under it.
      const Vec3 middle = edges_[e].at(mesh_, 0.5);
      if (std::any_of(rim_.begin(), rim_.end(), [&](int other) {
            return other != e &&
                   cross_in_plan(place, middle, mesh_.points[edges_[other].a], mesh_.points[edges_[other].b]);
          }))
        continue;
      for (int j = 0; j < kOnEdge; ++j) reach(e * kOnEdge + j, (point(e * kOnEdge + j) - place).norm(), -1);
    }
  while (!open.empty()) {
    const auto [d, p] = open.top();
    open.pop();
    if (d > f.far[p]) continue;
    const Edge& e = edges_[p / kOnEdge];
    const Vec3 at = point(p);
    const int came = f.before[p] < 0 ? -1 : f.before[p] / kOnEdge;
    for (const int t : {e.left, e.right}) {
      // Through the triangle that it came across no way is shorter than straight on from where it came.
      if (t < 0 || (came >= 0 && std::find(of_[t].begin(), of_[t].end(), came) != of_[t].end())) continue;
      for (const int other : of_[t])
        if (other != p / kOnEdge)
          for (int j = 0; j < kOnEdge; ++j) reach(other * kOnEdge + j, d + (point(other * kOnEdge + j) - at).norm(), p);
    }
  }
  f.node.assign(mesh_.points.size(), kInfinite);
  for (std::size_t i = 0; i < f.node.size(); ++i)
    for (const int t : around_[i])
      for (const int e : of_[t])
        for (int j = 0; j < kOnEdge; ++j) {
          const int p = e * kOnEdge + j;
          f.node[i] = std::min(f.node[i], f.far[p] + (point(p) - mesh_.points[i]).norm());
        }
  if (from.node >= 0) f.node[from.node] = 0;
  return f;
}

void OverFace::pull(const TapeFrom& from, Way& way, int sweeps) const {
  auto& line = way.line;
  for (int sweep = 0; sweep < sweeps; ++sweep) {
    double moved = 0;
    for (std::size_t k = 0; k < way.crossed.size(); ++k) {
      const std::size_t at = way.first + k;
      const Vec3& next = line[at + 1];
      Vec3 to = line[at];
      if (at == 0) {  // the foot slides along all of those edges
        double off = kInfinite;
        for (const int e : from.edges) {
          const Vec3 q = nearest_on_segment(next, edges_[e].at(mesh_, 0), edges_[e].at(mesh_, 1));
          if ((q - next).norm() < off) off = (q - next).norm(), to = q, way.crossed[k] = e;
        }
      } else {
        const Edge& e = edges_[way.crossed[k]];
        const Vec3 &a = mesh_.points[e.a], d = mesh_.points[e.b] - a;
        to = a + std::clamp(taut(a, d, line[at - 1], next), 0.0, 1.0) * d;
      }
      moved = std::max(moved, (to - line[at]).norm());
      line[at] = to;
    }
    if (moved < 1e-4) break;
  }
}

/// The triangle on either side of an edge that has that other edge (or node) as well; −1: none.
int OverFace::beside(int edge, int other_edge, int node) const {
  for (const int t : {edges_[edge].left, edges_[edge].right}) {
    if (t < 0) continue;
    if (other_edge >= 0 && std::count(of_[t].begin(), of_[t].end(), other_edge)) return t;
    if (node >= 0 && std::count(mesh_.triangles[t].begin(), mesh_.triangles[t].end(), node)) return t;
  }
  return -1;
}

/// The way on the other side of a node that it is caught on; nothing where the face ends there.
std::optional<OverFace::Way> OverFace::around(const TapeFrom& from, const Way& way, std::size_t k, int caught,
                                              int node) const {
  const auto holds = [&](std::size_t i) {
    const Edge& e = edges_[way.crossed[i]];
    return e.a == caught || e.b == caught;
  };
  std::size_t begin = k, end = k + 1;
  while (begin > 0 && holds(begin - 1)) --begin;
  while (end < way.crossed.size() && holds(end)) ++end;
  if (way.first + begin == 0 || (begin == 0 && from.node < 0)) return std::nullopt;  // on the rim itself
  int at =
      begin > 0 ? beside(way.crossed[begin], way.crossed[begin - 1], -1) : beside(way.crossed[begin], -1, from.node);
  const int last = end < way.crossed.size() ? beside(way.crossed[end - 1], way.crossed[end], -1)
                                            : beside(way.crossed[end - 1], -1, node);
  if (at < 0 || last < 0) return std::nullopt;
  Way out{way.first,
          {way.crossed.begin(), way.crossed.begin() + static_cast<long>(begin)},
          {way.line.begin(), way.line.begin() + static_cast<long>(way.first + begin)}};
  int came = way.crossed[begin];
  for (std::size_t turn = 0; at != last; ++turn) {
    int next = -1;
    for (const int e : of_[at])
      if (e != came && (edges_[e].a == caught || edges_[e].b == caught)) next = e;
    if (next < 0 || edges_[next].right < 0 || turn > around_[caught].size()) return std::nullopt;
    out.crossed.push_back(next), out.line.push_back(mesh_.points[caught]);
    at = edges_[next].left == at ? edges_[next].right : edges_[next].left;
    came = next;
  }
  out.crossed.insert(out.crossed.end(), way.crossed.begin() + static_cast<long>(end), way.crossed.end());
  out.line.insert(out.line.end(), way.line.begin() + static_cast<long>(way.first + end), way.line.end());
  return out;
}

std::vector<Vec3> OverFace::trace(const TapeFrom& from, const Field& f, int node) const {
  int last = -1;
  double best = kInfinite;
  for (const int t : around_[node])
    for (const int e : of_[t])
      for (int j = 0; j < kOnEdge; ++j) {
        const int p = e * kOnEdge + j;
        const double d = f.far[p] + (point(p) - mesh_.points[node]).norm();
        // An edge that ends in the node itself is no crossing, unless the tape begins on it.
        const bool ends_there = edges_[e].a == node || edges_[e].b == node;
        if (d < best && (!ends_there || f.before[p] < 0)) best = d, last = p;
      }
  if (last < 0) return {};
  // The fixed start, if there is one, then a place on each edge crossed, then the node.
  Way way;
  for (int p = last; p >= 0; p = f.before[p]) way.crossed.push_back(p / kOnEdge), way.line.push_back(point(p));
  std::reverse(way.crossed.begin(), way.crossed.end()), std::reverse(way.line.begin(), way.line.end());
  if (from.node >= 0) way.line.insert(way.line.begin(), mesh_.points[from.node]);
  if (!from.outside.empty()) way.line.insert(way.line.begin(), from.outside[0]);
  way.first = way.line.size() - way.crossed.size();
  way.line.push_back(mesh_.points[node]);
  pull(from, way, kSweeps);
  // Caught on a node, it goes by on the other side if that is shorter.
  std::set<int> tried;
  for (std::size_t k = 0; k < way.crossed.size(); ++k) {
    const Vec3& at = way.line[way.first + k];
    const Edge& e = edges_[way.crossed[k]];
    const int caught = (at - mesh_.points[e.a]).norm() < 1e-3 ? e.a : (at - mesh_.points[e.b]).norm() < 1e-3 ? e.b : -1;
    if (caught < 0 || !tried.insert(caught).second) continue;
    auto other = around(from, way, k, caught, node);
    if (!other) continue;
    pull(from, *other, kFewSweeps);
    if (length_of(other->line) < length_of(way.line) - 1e-6) way = std::move(*other), k = 0;
  }
  pull(from, way, kSweeps);
  return way.line;
}

double length_of(const std::vector<Vec3>& line) {
  double sum = 0;
  for (std::size_t k = 1; k < line.size(); ++k) sum += (line[k] - line[k - 1]).norm();
  return sum;
}

}  // namespace gapfront::correct
