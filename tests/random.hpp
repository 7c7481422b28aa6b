// Random numbers that are the same with every standard library (Box–Muller on a fixed engine).
#pragma once
#include <algorithm>
#include <cmath>
#include <random>

#include "gapfront/geometry.hpp"

namespace support {

template <class Engine>
class RandomFrom {
 public:
  explicit RandomFrom(unsigned seed) : engine_(seed) {}
  double uniform(double a = 0, double b = 1) { return a + (b - a) * share(); }
  int whole(int below) { return std::min(below - 1, static_cast<int>(uniform(0, below))); }
  double gauss() { return std::sqrt(-2 * std::log(uniform())) * std::cos(2 * M_PI * uniform()); }
  gapfront::Vec3 vector() {
    const double x = gauss(), y = gauss(), z = gauss();
    return {x, y, z};
  }

 private:
  /// Half a step off either end: no logarithm is of nothing.
  double share() {
    if constexpr (Engine::max() == 0xffffffffu)
      return (engine_() + 0.5) / 4294967296.0;
    else
      return (double(engine_() >> 11) + 0.5) * 0x1p-53;
  }
  Engine engine_;
};
using Random = RandomFrom<std::mt19937>;
/// With as many bits as a double keeps.
using FineRandom = RandomFrom<std::mt19937_64>;

}  // namespace support
