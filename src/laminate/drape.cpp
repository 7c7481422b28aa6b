// A net of threads over the sheet.
#include "gapfront/drape.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "core/triangle_tree.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// Half a meter of cloth and more to each side with cells of a few mm; a net that does not end comes back on itself.
constexpr int kMostCells = 1000;
// A point taken from a drawing may stand off the face by the gap and more, mm.
constexpr double kStartOff = 20;
// Cells by which a net goes on beyond the sheet: over a hole of so many, and for the rim's own nodes (own choice).
constexpr double kBeyond = 12;
// Threads that close to less than this lie upon each other, rad (15°; cloth locks long before).
constexpr double kClosed = 0.2617993877991494;
// Turn out of the plane of two known crossings within which the next one is looked for, rad: a right-angled edge,
// almost.
constexpr double kBend = 1.5;

/// The sheet, between its nodes; beyond its rim its tangent planes there.
class Face {
 public:
  explicit Face(const Sheet& sheet) : sheet_(sheet), tree_(sheet.mesh) {}
  struct Foot {
    Vec3 at, normal;
    double off;
  };
  Foot foot(const Vec3& p) const {
    const auto hit = tree_.nearest(p);
    const auto& t = sheet_.mesh.triangles[static_cast<std::size_t>(hit.triangle)];
    const Vec3 &a = sheet_.mesh.points[t[0]], u = sheet_.mesh.points[t[1]] - a, v = sheet_.mesh.points[t[2]] - a;
    // Normals of the corners, by area: a facet's own would make the net wander from facet to facet.
    const Vec3 up = u.cross(v), d = hit.point - a;
    const double all = up.squaredNorm(), one = d.cross(v).dot(up) / all, two = u.cross(d).dot(up) / all;
    const Vec3 n = (1 - one - two) * sheet_.normals[t[0]] + one * sheet_.normals[t[1]] + two * sheet_.normals[t[2]];
    return {hit.point, n.normalized(), hit.distance};
  }
  /// Height over it, mm.
  double over(const Vec3& p) const {
    const Foot f = foot(p);
    return (p - f.at).dot(f.normal);
  }
  /// Where the circle m + r (cos θ u + sin θ v) meets it nearest to θ = 0; none within kBend.
  std::optional<Vec3> on_circle(const Vec3& m, const Vec3& u, const Vec3& v, double r) const {
    const auto at = [&](double t) { return Vec3(m + r * (std::cos(t) * u + std::sin(t) * v)); };
    double a = 0, fa = over(at(0)), b = 0, fb = fa;
    const double enough = 1e-9 * r;
    if (std::abs(fa) <= enough) return at(0);
    for (double step = 0.2; (fb > 0) == (fa > 0); step *= 1.5) {  // towards the face, then the root between a and b
      if (std::abs(b) >= kBend) return std::nullopt;
      a = b, fa = fb;
      b = std::clamp(b + (fa > 0 ? -step : step), -kBend, kBend), fb = over(at(b));
    }
    for (int k = 0; k < 40 && std::abs(fb) > enough; ++k) {  // false position with the Illinois rule
      const double t = (a * fb - b * fa) / (fb - fa), f = over(at(t));
      if ((f > 0) == (fb > 0))
        fa *= 0.5;
      else
        a = b, fa = fb;
      b = t, fb = f;
    }
    return at(b);
  }

 private:
  const Sheet& sheet_;
  TriangleTree tree_;
};

/// Straightest way from p along d: points a cell apart, until the sheet is left behind.
std::vector<Vec3> straight(const Face& face, const Vec3& p, Vec3 d, double cell) {
  std::vector<Vec3> out{p};
  while (out.size() < kMostCells) {
    const Vec3 n = face.foot(out.back()).normal;
    d = (d - n * n.dot(d)).normalized();
    const auto next = face.on_circle(out.back(), d, n, cell);
    if (!next || face.foot(*next).off > kBeyond * cell) break;
    d = *next - out.back();
    out.push_back(*next);
  }
  return out;
}

/// The crossing a cell from both a and b, away from c.
std::optional<Vec3> crossing(const Face& face, const Vec3& a, const Vec3& b, const Vec3& c, double cell) {
  const Vec3 m = 0.5 * (a + b), chord = b - a;
  const double half = 0.5 * chord.norm() / cell;  // sine of half the angle between the threads that meet there
  if (half < std::sin(0.5 * kClosed) || half > std::cos(0.5 * kClosed)) return std::nullopt;
  const Vec3 e = chord.normalized(), away = m - c - e * e.dot(m - c);
  if (!(away.norm() > 1e-6 * cell)) return std::nullopt;
  const Vec3 u = away.normalized(), n = face.foot(m).normal, v = u.cross(e);
  auto p = face.on_circle(m, u, v.dot(n) < 0 ? Vec3(-v) : v, cell * std::sqrt(1 - half * half));
  if (!p || face.foot(*p).off > kBeyond * cell) return std::nullopt;
  return p;
}

/// One quarter of the net, between two threads that start together; their signs against warp and weft.
void weave(const Face& face, const std::vector<Vec3>& first, const std::vector<Vec3>& second, int along, int across,
           double cell, std::vector<NetCell>& out) {
  std::vector<std::optional<Vec3>> last(second.begin(), second.end());
  for (std::size_t i = 1; i < first.size(); ++i) {
    std::vector<std::optional<Vec3>> row{first[i]};
    for (std::size_t j = 1; j < last.size(); ++j) {
      row.emplace_back();
      const auto &a = last[j], &b = row[j - 1], &c = last[j - 1];
      if (!a || !b || !c) continue;
      row[j] = crossing(face, *a, *b, *c, cell);
      if (!row[j]) continue;
      NetCell n;
      n.at = 0.25 * (*a + *b + *c + *row[j]);
      n.warp = double(along) * (*b - *c + *row[j] - *a).normalized();
      n.weft = double(across) * (*a - *c + *row[j] - *b).normalized();
      n.i = along > 0 ? int(i) - 1 : -int(i), n.j = across > 0 ? int(j) - 1 : -int(j);
      out.push_back(n);
    }
    last = std::move(row);
  }
}

}  // namespace

double NetCell::threads() const { return std::atan2(warp.cross(weft).norm(), warp.dot(weft)); }

double laminate::stretch_of(double shear) { return std::sqrt(1 + std::sin(shear)); }

std::vector<NetCell> laminate::weave_net(const Sheet& sheet, const Vec3& start, const Vec3& warp, double cell) {
  if (!(cell > 0)) throw Error(Fault::input, "drape: the net needs a cell greater than zero");
  const Face face(sheet);
  const auto begin = face.foot(start);
  if (begin.off > kStartOff)
    throw Error(Fault::input, "drape: the start stands more than 20 mm off the sheet; give a place on the lower face");
  const Vec3 n = begin.normal, flat = warp - n * n.dot(warp);
  if (!(flat.norm() > 0.1 * warp.norm()))
    throw Error(Fault::input, "drape: the direction stands on the sheet at the start; give one that runs along it");
  const Vec3 d = flat.normalized(), e = n.cross(d);
  const auto east = straight(face, begin.at, d, cell), north = straight(face, begin.at, e, cell);
  const auto west = straight(face, begin.at, -d, cell), south = straight(face, begin.at, -e, cell);
  std::vector<NetCell> out;
  weave(face, east, north, 1, 1, cell, out), weave(face, east, south, 1, -1, cell, out);
  weave(face, west, north, -1, 1, cell, out), weave(face, west, south, -1, -1, cell, out);
  return out;
}

}  // namespace gapfront
