// The units that parse_quantity() reads, for the manual.
#pragma once
#include <string>
#include <vector>

namespace gapfront {

struct KnownUnits {
  std::string what, example;       ///< "a length", "3 mm"
  std::vector<std::string> names;  ///< as one may write them; other spellings (µm, m², N m) are read as well
};
std::vector<KnownUnits> known_units();

}  // namespace gapfront
