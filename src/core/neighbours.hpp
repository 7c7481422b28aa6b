// Which nodes share an edge.
#pragma once
#include <algorithm>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

/// Neighbours of every node, ascending.
inline std::vector<std::vector<int>> neighbours(const Mesh& mesh) {
  std::vector<std::vector<int>> out(mesh.points.size());
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

}  // namespace gapfront
