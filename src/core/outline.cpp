// Closed along the mesh's edge.
#include "core/outline.hpp"

#include <cmath>
#include <map>

namespace gapfront {
namespace {

// A corner of the outline: a crossing on the edge (a, b) with a < b, or the node a itself when a == b.
using Key = std::pair<int, int>;

Vec3 place(const Mesh& mesh, const std::vector<double>& f, const Key& k) {
  const Vec3 &a = mesh.points[k.first], &b = mesh.points[k.second];
  if (k.first == k.second) return a;
  return a + f[k.first] / (f[k.first] - f[k.second]) * (b - a);
}

}  // namespace

std::vector<Vec3> outline_of(const Mesh& mesh, const std::vector<double>& f) {
  // The sides of the clipped triangles, each with the inside on its left; a side shared by two triangles runs once
  // each way and cancels. What is left is the boundary.
  std::map<std::pair<Key, Key>, int> sides;
  for (const auto& t : mesh.triangles) {
    std::vector<Key> corners;
    for (int k = 0; k < 3; ++k) {
      const int a = t[k], b = t[(k + 1) % 3];
      if (f[a] > 0) corners.push_back({a, a});
      if ((f[a] > 0) != (f[b] > 0)) corners.push_back({std::min(a, b), std::max(a, b)});
    }
    for (std::size_t k = 0; k < corners.size(); ++k) {
      const Key from = corners[k], to = corners[(k + 1) % corners.size()];
      if (auto back = sides.find({to, from}); back != sides.end())
        sides.erase(back);
      else
        ++sides[{from, to}];
    }
  }
  std::multimap<Key, Key> next;
  for (const auto& [side, count] : sides) next.insert(side);
  std::vector<Vec3> best;
  double longest = 0;
  while (!next.empty()) {
    std::vector<Vec3> loop;
    double length = 0;
    Key at = next.begin()->first;
    for (auto it = next.find(at); it != next.end(); it = next.find(at)) {
      loop.push_back(place(mesh, f, at));
      if (loop.size() > 1) length += (loop.back() - loop[loop.size() - 2]).norm();
      at = it->second;
      next.erase(it);
    }
    if (length > longest) longest = length, best = loop;
  }
  if (!best.empty()) best.push_back(best.front());
  return best;
}

}  // namespace gapfront
