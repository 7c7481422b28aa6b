#include "core/plain_text.hpp"

namespace gapfront {

bool is_plain(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto byte = [&](std::size_t k) { return k < text.size() ? static_cast<unsigned char>(text[k]) : 0U; };
    const unsigned c = byte(i), next = byte(i + 1), third = byte(i + 2);
    if ((c < 0x20 && c != '\t' && c != '\n') || c == 0x7f) return false;
    if (c == 0xc2 && next >= 0x80 && next <= 0x9f) return false;  // U+0080 to U+009F
    if (c != 0xe2) continue;
    if (next == 0x80 && third >= 0xaa && third <= 0xae) return false;  // U+202A to U+202E
    if (next == 0x81 && third >= 0xa6 && third <= 0xa9) return false;  // U+2066 to U+2069
  }
  return true;
}

}  // namespace gapfront
