// The checksums of an E57 file's pages made right again: what is changed in a file is then read, not only noticed.
#pragma once
#include <cstdint>
#include <cstring>
#include <string>

namespace fuzz {

/// CRC-32C bit by bit (RFC 3720, appendix B.4), independent of the reader's table.
inline std::uint32_t crc32c(const char* p, std::size_t n) {
  std::uint32_t c = 0xffffffffu;
  for (std::size_t i = 0; i < n; ++i) {
    c ^= static_cast<unsigned char>(p[i]);
    for (int k = 0; k < 8; ++k) c = (c >> 1) ^ (0x82f63b78u & (0u - (c & 1u)));
  }
  return ~c;
}

/// For pages of the size that the header names, as far as they are whole.
inline void mend_checksums(std::string& file) {
  if (file.size() < 48) return;
  std::uint64_t page;
  std::memcpy(&page, file.data() + 40, sizeof page);
  if (page < 8 || page > file.size()) return;
  for (std::uint64_t at = 0; at + page <= file.size(); at += page) {
    const std::uint32_t c = crc32c(file.data() + at, page - 4);
    for (int k = 0; k < 4; ++k) file[at + page - 4 + k] = char(c >> (24 - 8 * k));
  }
}

}  // namespace fuzz
