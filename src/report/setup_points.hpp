// A scan as the setup page draws it: fewer points, each with a normal, and marked where the surface bends or ends.
#pragma once
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::report {

struct ShownPoints {
  std::vector<Vec3> at;  ///< neighbours follow each other, mostly
  std::vector<Vec3f> normals;
  std::vector<bool> edge;  ///< at a rim: the surface bends there, or the scan ends
  double spacing = 0;      ///< mm
};

/// At most `most` of the points, evenly over the surface; `spacing` is the scan's, mm. The same for any number of
/// threads.
ShownPoints shown_points(const std::vector<Vec3>&, double spacing, std::size_t most);

/// Middle and main directions of a cloud: carries it to the origin, its longest extent along X, its shortest along Z.
Rigid laid_flat(const std::vector<Vec3>&);

}  // namespace gapfront::report
