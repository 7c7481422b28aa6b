// Which motions a registration leaves free, in words.
#pragma once
#include <string>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::align {

/// A place with a name.
struct NamedPlace {
  std::string name;
  Vec3 at;
};

/// What points at these places leave free ("free to turn about the line through B1 and B2"); empty when nothing is.
/// Points are taken as on one line when their spread across it is below a hundredth of their spread along it: an
/// error of the points would be magnified a hundredfold at that distance from the line.
std::string free_motion_of(const std::vector<NamedPlace>& places);

/// The same for any information matrix about `pivot`: motions whose standard uncertainty, over a tool of half-size
/// `size`, exceeds `limit` mm. Names slides and turns by the axes of the tool frame.
std::string free_motion_of(const Matrix6& information, const Vec3& pivot, double size, double limit);

}  // namespace gapfront::align
