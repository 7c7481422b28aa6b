// UTF-8 and what it is written into.
#pragma once
#include <algorithm>
#include <cstddef>
#include <string>
#include <string_view>

namespace gapfront {

/// Letters of UTF-8, not bytes: what takes room in a line.
inline std::size_t letters_in(std::string_view s) {
  return static_cast<std::size_t>(
      std::count_if(s.begin(), s.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xc0) != 0x80; }));
}

/// The letters themselves. Of bytes that are no UTF-8 some letter comes.
inline std::u32string letters_of(std::string_view s) {
  std::u32string out;
  for (const char raw : s) {
    const auto c = static_cast<unsigned char>(raw);
    if (c < 0x80)
      out += static_cast<char32_t>(c);
    else if (c >= 0xf0)
      out += static_cast<char32_t>(c & 0x07);
    else if (c >= 0xe0)
      out += static_cast<char32_t>(c & 0x0f);
    else if (c >= 0xc0)
      out += static_cast<char32_t>(c & 0x1f);
    else if (!out.empty())
      out.back() = (out.back() << 6) | (c & 0x3f);
  }
  return out;
}

/// A path as a browser reads it (RFC 3986, 2.1 and 2.3): blanks and signs, a "%41" or "#", are part of a name.
inline std::string url_path(std::string_view path) {
  constexpr std::string_view digits = "0123456789ABCDEF", kept = "/-_.~";
  std::string out;
  for (const char c : path) {
    const auto byte = static_cast<unsigned char>(c);
    if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || kept.find(c) != kept.npos)
      out += c;
    else
      out += {'%', digits[byte / 16], digits[byte % 16]};
  }
  return out;
}

}  // namespace gapfront
