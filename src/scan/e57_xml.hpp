// What the XML part of an E57 file says of its scans.
#pragma once
#include <cstdint>
#include <string>
#include <vector>
#include "scan/formats.hpp"

namespace gapfront::reading {

/// One value of a record: a stream of bits of its own in the file.
struct E57Field {
  enum Kind : char { f32, f64, whole } kind = f64;
  int bits = 64;
  std::uint64_t minimum = 0;     ///< of a whole number, as two's complement; what is stored is the amount above it
  double scale = 1, offset = 0;  ///< of a whole number: value = number · scale + offset
};

/// One scan: where its points stand in the file, and where they belong.
struct E57Part {
  std::string name;
  Rigid pose = Rigid::Identity();  ///< from the scan's axes into the file's, metres
  std::uint64_t offset = 0;        ///< in the file
  std::uint64_t records = 0;
  std::vector<E57Field> fields;
  bool spherical = false;    ///< its points are range, azimuth and elevation in place of x, y, z
  int at[3] = {-1, -1, -1};  ///< these three among the fields
  int invalid = -1;          ///< the state that says which points are none among them, or no such field
};

/// The scans that hold records. Throws Error{Fault::input} when one has neither cartesian nor spherical coordinates, or
/// numbers that are none. `xml` is used up.
std::vector<E57Part> e57_parts(const Input&, std::string& xml);

}  // namespace gapfront::reading
