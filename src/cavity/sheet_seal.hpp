// The seal line as a closed polygon in the tool's X–Y plane, the wall of a prism along Z.
#pragma once
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront {

class SealLine {
 public:
  explicit SealLine(std::vector<Vec3> polygon);
  bool empty() const { return polygon_.empty(); }
  /// Horizontal distance to the line, negative inside.
  double signed_distance(const Vec3& p) const;
  /// The point of the prism wall nearest to p at p's height.
  Vec3 snap(const Vec3& p) const;
  /// Corners that turn by more than 30 degrees; flatter ones come from a polyline drawn along a curve.
  const std::vector<Vec3>& corners() const { return corners_; }
  double length() const;
  /// The part of the line from `from` to `to` (both on it), the shorter way round; heights go linearly.
  std::vector<Vec3> path(const Vec3& from, const Vec3& to) const;

 private:
  double station(const Vec3& p) const;  // arc length at the point nearest to p
  std::vector<Vec3> polygon_, corners_;
  struct Segment {
    double x, y, dx, dy, inverse2;  // start, step, 1/length²
  };
  std::vector<Segment> segments_;
};

}  // namespace gapfront
