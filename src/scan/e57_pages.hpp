// The bytes of an E57 file (ASTM E2807) without the checksum that ends each of its pages.
#pragma once
#include <cstdint>
#include <fstream>
#include <string>
#include <vector>
#include "scan/input.hpp"

namespace gapfront::reading {

/// Reads at any place, one page in memory. Each page that is read is held against its checksum (CRC-32C).
class E57Pages {
 public:
  /// Reads the file's header. Throws Error{Fault::input}, as all functions here.
  explicit E57Pages(const Input&);

  std::uint64_t size() const { return logical_size_; }  ///< without checksums, bytes
  std::uint64_t xml_at() const { return xml_at_; }
  std::uint64_t xml_length() const { return xml_length_; }
  /// The place, counted without checksums, of an offset in the file as its sections name them; `what` is at it.
  std::uint64_t place_of(std::uint64_t offset, const std::string& what) const;
  /// n bytes from a place.
  void read(std::uint64_t place, char* out, std::uint64_t n);

 private:
  void load(std::uint64_t page);

  const Input& in_;
  std::ifstream file_;
  std::vector<char> page_;
  std::uint64_t loaded_, next_;  // the page in memory; the one that the file stands at
  std::uint64_t logical_size_, xml_at_, xml_length_;
  std::size_t payload_;  // of a page
};

}  // namespace gapfront::reading
