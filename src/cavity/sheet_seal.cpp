#include "cavity/sheet_seal.hpp"
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "core/segment.hpp"

namespace gapfront::cavity {
namespace {

Vec3 flat(const Vec3& p) { return {p.x(), p.y(), 0}; }

std::vector<Vec3> cleaned(const std::vector<Vec3>& polygon) {
  std::vector<Vec3> out;
  for (const Vec3& p : polygon)
    if (out.empty() || (flat(p) - out.back()).norm() > 0) out.push_back(flat(p));
  while (out.size() > 1 && (out.front() - out.back()).norm() == 0) out.pop_back();
  return out;
}

}  // namespace

SealLine::SealLine(const std::vector<Vec3>& polygon, const std::vector<std::vector<Vec3>>& islands)
    : polygon_(cleaned(polygon)) {
  add(polygon_);
  for (const auto& island : islands) add(islands_.emplace_back(cleaned(island)));
}

void SealLine::add(const std::vector<Vec3>& loop) {
  const std::size_t n = loop.size();
  for (std::size_t i = 0; i < n; ++i) {
    const Vec3 &a = loop[i], d = loop[(i + 1) % n] - a;
    segments_.push_back({a.x(), a.y(), d.x(), d.y(), d.squaredNorm() > 0 ? 1 / d.squaredNorm() : 0});
  }
  for (std::size_t i = 0; i < n && n >= 3; ++i) {
    const Vec3 in = (loop[i] - loop[(i + n - 1) % n]).normalized();
    const Vec3 out = (loop[(i + 1) % n] - loop[i]).normalized();
    if (in.dot(out) < std::cos(std::numbers::pi / 6)) corners_.push_back(loop[i]);
  }
}

bool SealLine::inside(const Vec3& p) const {
  if (closed() && !inside_polygon_xy(p, polygon_)) return false;
  return std::none_of(islands_.begin(), islands_.end(), [&](const auto& i) { return inside_polygon_xy(p, i); });
}

Vec3 SealLine::snap(const Vec3& p) const {
  // Every point of the face asks this: plain numbers, and no division.
  double best = std::numeric_limits<double>::infinity(), x = p.x(), y = p.y();
  for (const Segment& s : segments_) {
    const double ex = p.x() - s.x, ey = p.y() - s.y;
    const double t = std::clamp((ex * s.dx + ey * s.dy) * s.inverse2, 0.0, 1.0);
    const double rx = ex - t * s.dx, ry = ey - t * s.dy, d = rx * rx + ry * ry;
    if (d < best) best = d, x = s.x + t * s.dx, y = s.y + t * s.dy;
  }
  return {x, y, p.z()};
}

double SealLine::signed_distance(const Vec3& p) const {
  const double d = (snap(p) - p).norm();
  return inside(p) ? -d : d;
}

double SealLine::length() const {
  double sum = 0;
  for (std::size_t i = 0, n = polygon_.size(); i < n; ++i) sum += (polygon_[(i + 1) % n] - polygon_[i]).norm();
  return sum;
}

double SealLine::station(const Vec3& p) const {
  const Vec3 q = flat(p);
  double best = std::numeric_limits<double>::infinity(), found = 0, sum = 0;
  for (std::size_t i = 0, n = polygon_.size(); i < n; ++i) {
    const Vec3 c = nearest_on_segment(q, polygon_[i], polygon_[(i + 1) % n]);
    if (const double d = (c - q).squaredNorm(); d < best) best = d, found = sum + (c - polygon_[i]).norm();
    sum += (polygon_[(i + 1) % n] - polygon_[i]).norm();
  }
  return found;
}

std::vector<Vec3> SealLine::path(const Vec3& from, const Vec3& to) const {
  const double total = length(), a = station(from);
  double span = std::fmod(station(to) - a + total, total);
  const bool forward = span <= total / 2;
  if (!forward) span = total - span;
  std::vector<std::pair<double, Vec3>> passed;
  double s = 0;
  for (std::size_t i = 0, n = polygon_.size(); i < n; ++i) {
    double along = std::fmod(forward ? s - a + total : a - s + total, total);
    if (along > 0 && along < span)
      passed.push_back({along, {polygon_[i].x(), polygon_[i].y(), from.z() + (to.z() - from.z()) * along / span}});
    s += (polygon_[(i + 1) % n] - polygon_[i]).norm();
  }
  std::sort(passed.begin(), passed.end(), [](const auto& x, const auto& y) { return x.first < y.first; });
  std::vector<Vec3> out{from};
  for (const auto& p : passed) out.push_back(p.second);
  out.push_back(to);
  return out;
}

}  // namespace gapfront::cavity
