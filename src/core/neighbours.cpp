#include "core/neighbours.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront {

std::vector<std::vector<int>> neighbours(const Mesh& mesh) {
  std::vector<std::vector<int>> out(mesh.points.size());
  std::vector<int> count(mesh.points.size(), 0);
  for (const auto& t : mesh.triangles)
    for (const int i : t) ++count[i];
  for (std::size_t i = 0; i < out.size(); ++i) out[i].reserve(2 * count[i]);
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k) {
      out[t[k]].push_back(t[(k + 1) % 3]);
      out[t[k]].push_back(t[(k + 2) % 3]);
    }
  for (auto& n : out) {
    std::sort(n.begin(), n.end());
    n.erase(std::unique(n.begin(), n.end()), n.end());
  }
  return out;
}

std::vector<std::pair<int, int>> rim_edges(const Mesh& mesh) {
  std::vector<std::pair<int, int>> sides, out;
  sides.reserve(3 * mesh.triangles.size());
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k) sides.push_back(std::minmax(t[k], t[(k + 1) % 3]));
  std::sort(sides.begin(), sides.end());
  for (auto k = sides.begin(); k != sides.end();) {
    const auto end = std::find_if(k, sides.end(), [&](const auto& other) { return other != *k; });
    if (end - k == 1) out.push_back(*k);
    k = end;
  }
  return out;
}

std::vector<double> smoothed(std::vector<double> f, const std::vector<std::vector<int>>& around, int passes) {
  std::vector<double> next = f;
  for (int p = 0; p < passes; ++p, std::swap(f, next))
    for (std::size_t i = 0; i < f.size(); ++i) {
      double sum = 0;
      int count = 0;
      for (const int j : around[i])
        if (std::isfinite(f[j])) sum += f[j], ++count;
      next[i] = !std::isfinite(f[i]) || count == 0 ? f[i] : 0.5 * f[i] + 0.5 * sum / count;
    }
  return f;
}

}  // namespace gapfront
