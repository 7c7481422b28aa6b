// A text as a square code that a telephone or a hand scanner reads (QR code, ISO/IEC 18004).
#pragma once
#include <string>

namespace gapfront::report {

/// The code of a text (UTF-8) as an SVG picture, dark on white with its quiet zone of four modules; `label`, already
/// safe for HTML, is what is read aloud. Error correction level M: 15 % of the code words may be lost. Empty for an
/// empty text and for one that no code holds (more than 2,331 bytes).
std::string square_code_svg(const std::string& text, const std::string& label);

}  // namespace gapfront::report
