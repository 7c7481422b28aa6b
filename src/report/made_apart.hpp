// Parts of a page, or files of a folder, made at the same time.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "core/parallel.hpp"

namespace gapfront::report {

/// What each of them makes, in their order. None may need another.
inline std::vector<std::string> made_apart(const std::vector<std::function<std::string()>>& parts) {
  std::vector<std::string> out(parts.size());
  parallel_for(
      parts.size(), [&](std::size_t k) { out[k] = parts[k](); }, 1);
  return out;
}

}  // namespace gapfront::report
