#pragma once
#include <cstdint>
#include <vector>

namespace gapfront {

/// The root of what `i` is joined with; paths are halved on the way.
inline std::uint32_t root(std::vector<std::uint32_t>& parent, std::uint32_t i) {
  while (parent[i] != i) i = parent[i] = parent[parent[i]];
  return i;
}

}  // namespace gapfront
