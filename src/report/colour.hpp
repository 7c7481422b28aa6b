// Published perceptual colour scales, sampled from d3-scale-chromatic 3 (npm), which carries the tables of
// viridis and cividis (matplotlib) and of the ColorBrewer diverging schemes.
#pragma once
#include <cstdint>
#include <string>

namespace gapfront::report {

struct Rgb {
  std::uint8_t r, g, b;
};

/// viridis and cividis run dark to light; diverging runs blue (low) – white (zero) – orange (high).
enum class Scale { viridis, cividis, diverging };

/// Colour at t in [0,1]; values outside are clamped.
Rgb colour(Scale, double t);
std::string hex(Rgb);

}  // namespace gapfront::report
