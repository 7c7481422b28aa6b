// Points by cubes of space, as one number each.
#pragma once
#include <cmath>
#include <cstdint>

#include "gapfront/geometry.hpp"

namespace gapfront::align {

/// Of the cube of side `side` mm that holds p, or of the one `steps` cubes from it. 21 bits an axis reach ±10^6 cubes,
/// a metre in steps of a micrometre.
inline std::uint64_t voxel_key(const Vec3& p, double side, const Eigen::Vector3i& steps = Eigen::Vector3i::Zero()) {
  std::uint64_t key = 0;
  for (int k = 0; k < 3; ++k) {
    const auto cube = static_cast<std::int64_t>(std::floor(p[k] / side)) + steps[k];
    key = key << 21 | (static_cast<std::uint64_t>(cube + (1 << 20)) & 0x1fffff);
  }
  return key;
}

}  // namespace gapfront::align
