// The seal line as a closed polygon in the tool's X–Y plane, the wall of a prism along Z; and the islands within it,
// prisms as well, which are cut out.
#pragma once
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront::cavity {

class SealLine {
 public:
  explicit SealLine(const std::vector<Vec3>& polygon, const std::vector<std::vector<Vec3>>& islands = {});
  /// No line at all, neither around the cavity nor around islands.
  bool empty() const { return segments_.empty(); }
  /// A line around the cavity: without one, only the scan's own outline says where it ends.
  bool closed() const { return !polygon_.empty(); }
  /// Horizontal distance to the line, or to an island's, negative inside the cavity.
  double signed_distance(const Vec3& p) const;
  /// The point of the prism wall nearest to p at p's height.
  Vec3 snap(const Vec3& p) const;
  /// Corners that turn by more than 30 degrees; flatter ones come from a polyline drawn along a curve.
  const std::vector<Vec3>& corners() const { return corners_; }
  /// Inside the seal line (if there is one) and in none of the islands.
  bool inside(const Vec3& p) const;
  double length() const;
  /// The part of the line from `from` to `to` (both on it), the shorter way round; heights go linearly.
  std::vector<Vec3> path(const Vec3& from, const Vec3& to) const;

 private:
  double station(const Vec3& p) const;  // arc length at the point nearest to p
  void add(const std::vector<Vec3>& loop);
  std::vector<Vec3> polygon_, corners_;
  std::vector<std::vector<Vec3>> islands_;
  struct Segment {
    double x, y, dx, dy, inverse2;  // start, step, 1/length²
  };
  std::vector<Segment> segments_;
};

}  // namespace gapfront::cavity
