#include "report/colour.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <span>

namespace gapfront::report {
namespace {

constexpr std::array<std::uint32_t, 17> viridis = {0x440154, 0x48186a, 0x472d7b, 0x424086, 0x3b528b, 0x33638d,
                                                   0x2c728e, 0x26828e, 0x21918c, 0x1fa088, 0x28ae80, 0x3fbc73,
                                                   0x5ec962, 0x84d44b, 0xaddc30, 0xd8e219, 0xfde725};
constexpr std::array<std::uint32_t, 17> cividis = {0x002051, 0x012b65, 0x11366c, 0x26426e, 0x3c4d6e, 0x51586e,
                                                   0x62646f, 0x727071, 0x7f7c75, 0x8c8877, 0x9a9478, 0xa9a177,
                                                   0xbbaf71, 0xcebd68, 0xe2cb5c, 0xf3da4f, 0xfdea45};
// ColorBrewer: the blue half of RdBu and the orange half of PuOr, which stay apart for every common colour blindness.
constexpr std::array<std::uint32_t, 11> diverging = {0x053061, 0x2166ac, 0x4393c3, 0x92c5de, 0xd1e5f0, 0xf7f7f7,
                                                     0xfee0b6, 0xfdb863, 0xe08214, 0xb35806, 0x7f3b08};

Rgb between(std::span<const std::uint32_t> table, double t) {
  const double x = std::clamp(t, 0.0, 1.0) * (table.size() - 1);
  const std::size_t i = std::min<std::size_t>(x, table.size() - 2);
  const double f = x - i;
  auto mix = [&](int shift) {
    const double a = (table[i] >> shift) & 255, b = (table[i + 1] >> shift) & 255;
    return static_cast<std::uint8_t>(std::lround(a + f * (b - a)));
  };
  return {mix(16), mix(8), mix(0)};
}

}  // namespace

Rgb colour(Scale scale, double t) {
  switch (scale) {
    case Scale::viridis:
      return between(viridis, t);
    case Scale::cividis:
      return between(cividis, t);
    case Scale::diverging:
      return between(diverging, t);
  }
  return {};
}

std::string hex(Rgb c) {
  char text[8];
  std::snprintf(text, sizeof text, "#%02x%02x%02x", c.r, c.g, c.b);
  return text;
}

}  // namespace gapfront::report
