#include "report/colour.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>

namespace gapfront::report {
namespace {

/// CIELAB by lightness, chroma and hue angle in degrees; white D65, 2° observer.
struct Lch {
  double lightness, chroma, hue;
};

double from_lab(double f) {
  constexpr double knee = 6.0 / 29;
  return f > knee ? f * f * f : 3 * knee * knee * (f - 4.0 / 29);
}

/// IEC 61966-2-1 (sRGB). The scales' numbers are chosen so that nothing needs to be cut off.
std::uint8_t encode(double linear) {
  const double c = linear > 0 ? std::min(linear, 1.0) : 0;  // NaN is 0
  return static_cast<std::uint8_t>(
      std::lround(255 * (c <= 0.0031308 ? 12.92 * c : 1.055 * std::pow(c, 1 / 2.4) - 0.055)));
}

Rgb to_rgb(const Lch& c) {
  const double angle = c.hue * std::numbers::pi / 180, fy = (c.lightness + 16) / 116;
  const double x = 0.95047 * from_lab(fy + c.chroma * std::cos(angle) / 500), y = from_lab(fy),
               z = 1.08883 * from_lab(fy - c.chroma * std::sin(angle) / 200);
  return {encode(3.2404542 * x - 1.5371385 * y - 0.4985314 * z), encode(-0.9692660 * x + 1.8760108 * y + 0.0415560 * z),
          encode(0.0556434 * x - 0.2040259 * y + 1.0572252 * z)};
}

/// Lightness runs straight, so that equal differences of the value are equal differences of lightness; the hue turns
/// with it, and the chroma swells in the middle, where the screen can show most.
Lch straight(double t, const Lch& dark, const Lch& light, double swell) {
  const double c = dark.chroma + t * (light.chroma - dark.chroma) + swell * std::sin(std::numbers::pi * t);
  return {dark.lightness + t * (light.lightness - dark.lightness), c, dark.hue + t * (light.hue - dark.hue)};
}

}  // namespace

Rgb colour(Scale scale, double t) {
  t = std::isfinite(t) ? std::clamp(t, 0.0, 1.0) : 0;
  switch (scale) {
    case Scale::sequence:
      return to_rgb(straight(t, {22, 14, 222}, {93, 14, 95}, 17));
    case Scale::amount:
      return to_rgb(straight(t, {20, 12, 282}, {94, 12, 330}, 32));
    case Scale::diverging: {
      const double a = std::abs(2 * t - 1);
      return to_rgb({96 - 60 * a, 38 * std::sin(0.5 * std::numbers::pi * a), t < 0.5 ? 278.0 : 56.0});
    }
  }
  return {};
}

std::string hex(Rgb c) {
  char text[8];
  std::snprintf(text, sizeof text, "#%02x%02x%02x", c.r, c.g, c.b);
  return text;
}

}  // namespace gapfront::report
