// Letters for pictures that the program paints itself: single strokes as a drawing is lettered, no font file, the same
// everywhere.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

namespace gapfront::report {

/// A picture of one byte a pixel: an index into a palette.
struct Plate {
  int width = 0, height = 0;
  std::vector<std::uint8_t> pixels;
};

/// How words lie: `size` is the height of capitals in pixels; x is their middle.
struct Lettering {
  double x = 0, baseline = 0, size = 12, stroke = 1.6;
};

/// Draws words (UTF-8; letters of the five languages). A pixel that is covered by k/`steps` becomes k, so that the
/// palette begins with the ground and ends its first steps with the ink; what is darker stays.
void letter(Plate&, const Lettering&, const std::string& words, int steps);
/// Width of words in pixels.
double width_of(const std::string& words, double size);

}  // namespace gapfront::report
