#include "scan/e57_pages.hpp"
#include <algorithm>
#include <array>
#include <cstring>
#include "scan/formats.hpp"

namespace gapfront::reading {
namespace {

constexpr std::size_t kE57Header = 48, kChecksum = 4;
// The standard's files have pages of 1024 bytes. A megabyte is what one page may take of the memory.
constexpr std::uint64_t kLeastPage = 64, kLargestPage = 1 << 20;

/// CRC-32C (Castagnoli), reflected: RFC 3720, appendix B.4.
std::uint32_t crc32c(const char* p, std::size_t n) {
  static const auto table = [] {
    std::array<std::uint32_t, 256> t{};
    for (std::uint32_t i = 0; i < 256; ++i) {
      t[i] = i;
      for (int k = 0; k < 8; ++k) t[i] = t[i] >> 1 ^ (t[i] & 1 ? 0x82f63b78u : 0u);
    }
    return t;
  }();
  std::uint32_t c = ~0u;
  for (std::size_t i = 0; i < n; ++i) c = c >> 8 ^ table[(c ^ static_cast<unsigned char>(p[i])) & 0xff];
  return ~c;
}

std::uint64_t u64_at(const char* p) {
  std::uint64_t v;
  std::memcpy(&v, p, sizeof v);
  return v;
}

}  // namespace

E57Pages::E57Pages(const Input& in) : in_(in), file_(in.name(), std::ios::binary), loaded_(~0ull), next_(0) {
  char h[kE57Header];
  if (in.size() < kE57Header || !file_.read(h, kE57Header))
    in.fail_file("ends within its header; copy or export the file again");
  std::uint32_t major = 0;
  std::memcpy(&major, h + 8, sizeof major);
  if (major != 1)
    in.fail_byte(8, "is E57 of version " + std::to_string(major) + "; export it as version 1 (ASTM E2807)");
  const std::uint64_t promised = u64_at(h + 16), page = u64_at(h + 40);
  if (promised != in.size())
    in.fail_byte(16, "the header promises " + std::to_string(promised) + " bytes, the file has " +
                         std::to_string(in.size()) + "; copy or export the file again");
  if (page < kLeastPage || page > kLargestPage || page % 4 != 0 || promised % page != 0)
    in.fail_byte(40, "pages of " + std::to_string(page) + " bytes do not make up the file; export the file again");
  payload_ = page - kChecksum;
  page_.resize(page);
  logical_size_ = promised / page * payload_;
  xml_at_ = place_of(u64_at(h + 24), "its XML part");
  xml_length_ = u64_at(h + 32);
  if (xml_length_ > logical_size_ - xml_at_)
    in.fail_byte(32, "its XML part of " + std::to_string(xml_length_) +
                         " bytes reaches beyond the file's end; copy or export the file again");
  next_ = ~0ull;
}

std::uint64_t E57Pages::place_of(std::uint64_t offset, const std::string& what) const {
  const std::uint64_t page = offset / page_.size(), within = offset % page_.size();
  const std::uint64_t place = page * payload_ + within;
  if (within >= payload_ || offset >= in_.size())
    in_.fail_file(what + " is said to be at byte " + std::to_string(offset) +
                  ", where nothing can be; copy or export the file again");
  return place;
}

void E57Pages::load(std::uint64_t page) {
  if (page == loaded_) return;
  if (page != next_) file_.seekg(std::streamoff(page * page_.size()));
  loaded_ = ~0ull, next_ = ~0ull;
  if (!file_.read(page_.data(), std::streamsize(page_.size())))
    in_.fail_byte(page * page_.size(), "reading failed; check the disk or copy the file again");
  // The checksum alone stands most significant byte first.
  if (std::uint32_t(number_at(page_.data() + payload_, Number::u32, true)) != crc32c(page_.data(), payload_))
    in_.fail_byte(page * page_.size(),
                  "the page that begins here is damaged (checksum); copy or export the file again");
  loaded_ = page, next_ = page + 1;
}

void E57Pages::read(std::uint64_t place, char* out, std::uint64_t n) {
  if (place > logical_size_ || n > logical_size_ - place)
    in_.fail_byte(in_.size(), "the file ends within what it promises; copy or export the file again");
  while (n > 0) {
    load(place / payload_);
    const std::size_t from = place % payload_, part = std::min<std::uint64_t>(n, payload_ - from);
    std::memcpy(out, page_.data() + from, part);
    out += part, place += part, n -= part;
  }
}

}  // namespace gapfront::reading
