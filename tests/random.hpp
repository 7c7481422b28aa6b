// Random numbers that are the same with every standard library (Box–Muller on a fixed engine).
#pragma once
#include <algorithm>
#include <cmath>
#include <random>

#include "gapfront/geometry.hpp"

namespace support {

class Random {
 public:
  explicit Random(unsigned seed) : engine_(seed) {}
  double uniform(double a = 0, double b = 1) { return a + (b - a) * (engine_() + 0.5) / 4294967296.0; }
  int whole(int below) { return std::min(below - 1, static_cast<int>(uniform(0, below))); }
  double gauss() { return std::sqrt(-2 * std::log(uniform())) * std::cos(2 * M_PI * uniform()); }
  gapfront::Vec3 vector() {
    const double x = gauss(), y = gauss(), z = gauss();
    return {x, y, z};
  }

 private:
  std::mt19937 engine_;
};

}  // namespace support
