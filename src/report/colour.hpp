// The colour scales of maps and charts: our own, computed in CIELAB (ISO/CIE 11664-4), even to the eye.
#pragma once
#include <cstdint>
#include <string>

namespace gapfront::report {

struct Rgb {
  std::uint8_t r, g, b;
};

/// sequence: petrol to straw, for what has an order (times, gaps). amount: ink to lilac, for what there is more or less
/// of (uncertainty, pressure, probability). Both run dark to light, so that grey print keeps them. diverging: blue
/// (low) – near white (zero) – brown (high), alike in lightness on both sides.
enum class Scale { sequence, amount, diverging };

/// Colour at t in [0,1]; values outside are clamped.
Rgb colour(Scale, double t);
std::string hex(Rgb);

}  // namespace gapfront::report
