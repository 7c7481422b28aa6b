// The header of a PLY file, shared by the reader of points and that of painted meshes.
#pragma once
#include <string>
#include <vector>
#include "scan/formats.hpp"

namespace gapfront::reading {

struct Property {
  std::string name;
  Number type{};
  bool list = false;
  Number count_type{};
};
struct Element {
  std::string name;
  std::uint64_t count = 0;
  std::vector<Property> properties;
};
struct Header {
  std::string format;
  std::vector<Element> elements;
};

/// Reads up to and with end_header. Throws Error{Fault::input} for what is no PLY header.
Header read_ply_header(Input&);
/// Fewer records than the header promised.
[[noreturn]] void fail_ply_short(const Input&, const Element&, std::uint64_t present);

}  // namespace gapfront::reading
