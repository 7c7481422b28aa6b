// Sets that are joined again and again: each member points towards its set's root (union–find).
#pragma once
#include <algorithm>
#include <vector>

namespace gapfront {

/// The root of what `i` is joined with; paths are halved on the way.
template <class Index>
Index root(std::vector<Index>& parent, Index i) {
  while (parent[i] != i) i = parent[i] = parent[parent[i]];
  return i;
}

/// Makes one set of those of a and b; its root is the lesser of theirs.
template <class Index>
void join(std::vector<Index>& parent, Index a, Index b) {
  a = root(parent, a), b = root(parent, b);
  parent[std::max(a, b)] = std::min(a, b);
}

}  // namespace gapfront
