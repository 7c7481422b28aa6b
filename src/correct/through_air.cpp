// What of a half stands in the way of a straight tape.
#include <algorithm>
#include <cmath>
#include <limits>

#include "correct/find_place.hpp"

namespace gapfront::correct {
namespace {

// A tape that would be this deep in the half is bent around it without a change of its length that could be read: over
// 200 mm by 8·0.3²/(3·200) = 0.001 mm.
constexpr double kSink = 0.3;
// Of the scan of a flange, with its noise and its chamfers.
constexpr double kSinkFlange = 0.5;
// Cells of the grid, mm: what is smaller in plan is no obstacle to a tape, and a scan has points in each.
constexpr double kCell = 4;
// So many points of a scan are looked at: enough for one in each cell of a square metre.
constexpr std::size_t kPoints = 400000;

double cross2(const Vec3& a, const Vec3& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Calls use(t0, t1, height − triangle's height at both) for every triangle that the segment passes over in plan.
template <class Use>
bool any_triangle_under(const Mesh& m, const Vec3& a, const Vec3& b, Use use) {
  const Vec3 d = b - a;
  for (const auto& t : m.triangles) {
    const Vec3 &p = m.points[t[0]], &q = m.points[t[1]], &r = m.points[t[2]];
    const double twice = cross2(q - p, r - p);
    if (std::abs(twice) < 1e-6) continue;  // upright: its neighbours stand as high
    double from = 0, to = 1;
    for (int k = 0; k < 3 && from < to; ++k) {
      const Vec3 &u = m.points[t[k]], e = m.points[t[(k + 1) % 3]] - u;
      const double s = twice > 0 ? 1 : -1, start = s * cross2(e, a - u), grow = s * cross2(e, d);
      if (std::abs(grow) < 1e-12) {
        if (start < 0) to = -1;
      } else if (grow > 0) {
        from = std::max(from, -start / grow);
      } else {
        to = std::min(to, -start / grow);
      }
    }
    if (from > to) continue;
    const Vec3 n = (q - p).cross(r - p);
    const auto over = [&](double s) {
      const Vec3 x = a + s * d;
      return x.z() - (p.z() - (n.x() * (x.x() - p.x()) + n.y() * (x.y() - p.y())) / n.z());
    };
    if (use(from, to, over(from), over(to))) return true;
  }
  return false;
}

}  // namespace

Surroundings::Surroundings(const BenchHalf& half, const Surface* scan) : up_(half.upper ? -1 : 1) {
  const OverFace face(half.face);
  for (const int e : face.rim()) rim_.push_back(face.edges()[e].at(half.face, 0.5));
  if (!scan || scan->points().empty()) return;
  const auto& points = scan->points();
  const std::size_t stride = std::max<std::size_t>(1, points.size() / kPoints);
  Vec3 low = points[0], high = points[0];
  for (std::size_t i = 0; i < points.size(); i += stride)
    low = low.cwiseMin(points[i]), high = high.cwiseMax(points[i]);
  left_ = low.x(), low_ = low.y();
  columns_ = static_cast<int>((high.x() - low.x()) / kCell) + 1,
  rows_ = static_cast<int>((high.y() - low.y()) / kCell) + 1;
  top_.assign(static_cast<std::size_t>(columns_) * rows_, -std::numeric_limits<float>::infinity());
  for (std::size_t i = 0; i < points.size(); i += stride) {
    const int c = static_cast<int>((points[i].x() - left_) / kCell),
              r = static_cast<int>((points[i].y() - low_) / kCell);
    float& top = top_[static_cast<std::size_t>(r) * columns_ + c];
    top = std::max(top, static_cast<float>(up_ * points[i].z()));
  }
}

double Surroundings::height(const Vec3& p) const {
  const int c = static_cast<int>(std::floor((p.x() - left_) / kCell)),
            r = static_cast<int>(std::floor((p.y() - low_) / kCell));
  if (c >= 0 && r >= 0 && c < columns_ && r < rows_)
    if (const float top = top_[static_cast<std::size_t>(r) * columns_ + c]; std::isfinite(top)) return top;
  double nearest = 1e300, out = -1e300;
  for (const Vec3& q : rim_)
    if (const double d = (q - p).head<2>().squaredNorm(); d < nearest) nearest = d, out = up_ * q.z();
  return out;
}

bool through_air(const BenchHalf& half, const Surroundings& around, const Vec3& from, const Vec3& to, double near) {
  const double length = (to - from).norm(), up = half.upper ? -1 : 1;
  if (length <= near) return true;
  std::vector<std::pair<double, double>> over;
  const bool sunk = any_triangle_under(half.face, from, to, [&](double s, double t, double a, double b) {
    over.emplace_back(s, t);
    return t * length > near && std::min(up * a, up * b) < -kSink;
  });
  if (sunk) return false;
  std::sort(over.begin(), over.end());
  // What is not over the face is over the flange, or beyond it.
  std::size_t k = 0;
  double covered = 0;
  for (double s = near / length; s < 1; s += 1.0 / length) {
    while (k < over.size() && over[k].first <= s) covered = std::max(covered, over[k++].second);
    if (s <= covered) continue;
    const Vec3 p = from + s * (to - from);
    if (up * p.z() < around.height(p) - kSinkFlange) return false;
  }
  return true;
}

}  // namespace gapfront::correct
