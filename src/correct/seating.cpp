// On which stations a rigid half rests.
#include <cmath>

#include "core/segment.hpp"
#include "correct/shims.hpp"
#include "gapfront/error.hpp"

namespace gapfront::correct {
namespace {

// Same rule as the rigid part of the verdict: the halves close along Z when the mean gap direction is within 30° of it.
constexpr double kAlongZ = 0.866;
// The load point counts as inside up to this share of the triangle, so that a load right over an edge is caught.
constexpr double kInside = 1e-9;

}  // namespace

Seating seat(const Sheet& sheet, const GapMap& gap, const std::vector<Station>& stations) {
  Seating s;
  Vec3 direction = Vec3::Zero(), centre = Vec3::Zero();
  double total = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (gap.nodes[i].measured) direction += sheet.area[i] * gap.nodes[i].direction;
    centre += sheet.area[i] * sheet.mesh.points[i];
    total += sheet.area[i];
  }
  if (total > 0) centre /= total;
  if (direction.norm() > 0 && direction.normalized().z() <= kAlongZ) s.axis = direction.normalized();
  if (s.axis != Vec3::UnitZ()) {
    const Vec3 start = std::abs(s.axis.x()) < 0.9 ? Vec3::UnitX() : Vec3::UnitY();
    s.e1 = (start - start.dot(s.axis) * s.axis).normalized();
    s.e2 = s.axis.cross(s.e1);
  }
  for (const auto& t : stations) s.origin += t.at / static_cast<double>(stations.size());
  for (const auto& t : stations) s.at.emplace_back((t.at - s.origin).dot(s.e1), (t.at - s.origin).dot(s.e2));
  s.load = {(centre - s.origin).dot(s.e1), (centre - s.origin).dot(s.e2)};
  return s;
}

double Seating::height(const Vec3& plane, std::size_t k) const {
  return plane[0] + plane[1] * at[k].x() + plane[2] * at[k].y();
}

Vec3 Seating::row(const Vec3& place, const Vec3& d) const {
  // Height b·x + c·y is the small rotation ω = c·e1 − b·e2; its in-plane part moves walls as well.
  const Vec3 arm = (place - origin).cross(d);  // d·(ω × r) = ω·(r × d)
  return {d.dot(axis), -arm.dot(e2), arm.dot(e1)};
}

// The half comes down until nothing can sink further: the lowest plane at the load point that no station pierces, that
// is the face over the load of the upper convex hull of the raised stations.
std::optional<Vec3> Seating::rest(const std::vector<double>& h) const {
  const std::size_t n = at.size();
  if (n == 0) return std::nullopt;
  if (n == 1) return Vec3(h[0], 0, 0);
  if (n == 2) {  // a line; nothing says how it tilts across, so it does not
    const Eigen::Vector2d d = at[1] - at[0];
    if (d.squaredNorm() == 0) return Vec3(std::max(h[0], h[1]), 0, 0);
    const Eigen::Vector2d g = (h[1] - h[0]) / d.squaredNorm() * d;
    return Vec3(h[0] - g.dot(at[0]), g.x(), g.y());
  }
  for (const auto& c : carriers()) {
    const Vec3 plane = c.plane * Vec3(h[c.station[0]], h[c.station[1]], h[c.station[2]]);
    bool carries = true;
    for (std::size_t m = 0; m < n && carries; ++m) carries = height(plane, m) >= h[m] - kSameHeight;
    if (carries) return plane;
  }
  return std::nullopt;
}

std::vector<Seating::Carrier> Seating::carriers() const {
  std::vector<Carrier> out;
  const std::size_t n = at.size();
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = i + 1; j < n; ++j)
      for (std::size_t k = j + 1; k < n; ++k) {
        const Eigen::Vector2d u = at[j] - at[i], v = at[k] - at[i], c = load - at[i];
        const double det = cross(u, v);
        if (std::abs(det) <= 1e-9 * u.norm() * v.norm()) continue;  // in one line: no plane
        const double a = cross(c, v) / det, b = cross(u, c) / det;
        if (a < -kInside || b < -kInside || a + b > 1 + kInside) continue;
        Eigen::Matrix3d slope;  // of the heights, with the level at the first station
        slope << 1, 0, 0, (u.y() - v.y()) / det, v.y() / det, -u.y() / det, (v.x() - u.x()) / det, -v.x() / det,
            u.x() / det;
        slope.row(0) -= at[i].x() * slope.row(1) + at[i].y() * slope.row(2);
        out.push_back({{i, j, k}, slope});
      }
  return out;
}

double Seating::sideways(const Vec3& place, const Vec3& plane) const {
  const Vec3 move = (plane[2] * e1 - plane[1] * e2).cross(place - origin);
  return (move - move.dot(axis) * axis).norm();
}

std::vector<double> shim_effect(const Sheet& sheet, const GapMap& gap, const std::vector<Station>& stations,
                                const std::vector<double>& change) {
  if (change.size() != stations.size())
    throw Error(Fault::input, "correct: " + std::to_string(change.size()) + " shim changes for " +
                                  std::to_string(stations.size()) + " stations; give one per station");
  std::vector<double> out(sheet.size(), 0);
  if (stations.empty()) return out;
  const Seating s = seat(sheet, gap, stations);
  const auto plane = s.rest(change);
  if (!plane)
    throw Error(Fault::input,
                "correct.station: the stations do not enclose the middle of the sheet, so the upper half "
                "would tip; give stations all around the cavity");
  for (std::size_t i = 0; i < out.size(); ++i)
    out[i] = s.row(sheet.mesh.points[i], gap.nodes[i].measured ? gap.nodes[i].direction : sheet.normals[i]).dot(*plane);
  return out;
}

}  // namespace gapfront::correct
