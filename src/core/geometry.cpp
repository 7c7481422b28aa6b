#include "gapfront/geometry.hpp"

#include <algorithm>
#include <limits>

#include "core/segment.hpp"
#include "gapfront/error.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

double distance_to_path(const Vec3& p, const std::vector<Vec3>& path) {
  if (path.size() == 1) return (p - path[0]).norm();
  double best = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i + 1 < path.size(); ++i) {
    const Vec3 &a = path[i], &b = path[i + 1];
    best = std::min(best, (p - a - fraction_along(p, a, b) * (b - a)).norm());
  }
  return best;
}

bool inside_polygon_xy(const Vec3& p, const std::vector<Vec3>& polygon) {
  bool in = false;
  for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
    const Vec3 &a = polygon[i], &b = polygon[j];
    if ((a.y() > p.y()) != (b.y() > p.y()) && p.x() < (b.x() - a.x()) * (p.y() - a.y()) / (b.y() - a.y()) + a.x())
      in = !in;
  }
  return in;
}

bool Region::contains(const Vec3& p) const {
  if (!polygon.empty()) return inside_polygon_xy(p, polygon);
  if (!box.empty()) {
    const Vec3 lo = box[0].cwiseMin(box[1]), hi = box[0].cwiseMax(box[1]);
    return (p.array() >= lo.array()).all() && (p.array() <= hi.array()).all();
  }
  if (!path.empty()) return distance_to_path(p, path) <= radius;
  return true;
}

void report_progress(const Progress& progress, std::string_view stage, double fraction) {
  if (progress && !progress(stage, fraction)) throw Error(Fault::cancelled, "stopped at the user's request");
}

}  // namespace gapfront
