// A dish with a flange, its upper half a gap above it, and holes punched into either scan.
#pragma once
#include <functional>
#include "gapfront/conformity.hpp"
#include "sheet_shapes.hpp"

namespace dish {

using gapfront::Vec3;
using sheet_shapes::pi;

/// Rectangle of the seal line, mm; the flange goes on beyond it.
constexpr double half_x = 80, half_y = 60, flange = 12, depth = 18, gap = 3;

/// Distance inside of the upper edge of the wall, roughly: a p-norm keeps the corners round.
inline double inward(double x, double y) {
  const double a = std::max(0.0, std::abs(x) - 30), b = std::max(0.0, std::abs(y) - 10);
  return 40 - std::hypot(a, b);
}
/// Floor, wall of up to 55° 20 mm wide, flange; radii of 15 mm and more.
inline double height(double x, double y) {
  const double t = std::clamp(inward(x, y) / 20, 0.0, 1.0);
  return -depth * t * t * (3 - 2 * t);
}
inline Vec3 normal(double x, double y) {
  constexpr double e = 1e-4;
  return Vec3(-(height(x + e, y) - height(x - e, y)) / (2 * e), -(height(x, y + e) - height(x, y - e)) / (2 * e), 1)
      .normalized();
}

using Where = std::function<bool(const Vec3&)>;  ///< of a place on the lower face

struct Scans {
  std::vector<Vec3> lower, upper;
};
/// One point per `spacing`² of the face in each scan, jittered, with 10 µm of noise; what is missing is left out of
/// either, by the place on the lower face that a point is opposite to.
inline Scans scanned(const Where& lower_missing, const Where& upper_missing, unsigned seed, double spacing = 1) {
  support::Random dice(seed);
  Scans out;
  const int m = int(2 * (half_x + flange) / spacing), n = int(2 * (half_y + flange) / spacing);
  for (int i = 0; i < m; ++i)
    for (int j = 0; j < n; ++j)
      for (int half = 0; half < 2; ++half) {
        const double x0 = -half_x - flange + (i + 0.5) * spacing, y0 = -half_y - flange + (j + 0.5) * spacing;
        // As many points as the slope makes the cell larger, in strips up the slope.
        const double slope = 1 / normal(x0, y0).z();
        const int strips = std::max(1, int(std::lround(slope)));
        const Vec3 up = normal(x0, y0);
        const bool along_x = std::abs(up.x()) > std::abs(up.y());
        for (int k = 0; k < strips; ++k) {
          double u = 0.6 * (dice.uniform() - 0.5), v = 0.6 * (dice.uniform() - 0.5);
          (along_x ? u : v) = ((k + 0.2 + 0.6 * dice.uniform()) / strips - 0.5);
          const double x = x0 + u * spacing, y = y0 + v * spacing;
          const Vec3 p(x, y, height(x, y)), a = normal(x, y);
          const double off = 0.01 * dice.gauss();
          if (half == 0 && !lower_missing(p)) out.lower.push_back(p + off * a);
          if (half == 1 && !upper_missing(p)) out.upper.push_back(p + (gap + off) * a);
        }
      }
  return out;
}

/// True area of the face inside the seal line where `in` holds, mm².
inline double true_area(const Where& in) {
  double sum = 0;
  for (double x = -half_x + 0.25; x < half_x; x += 0.5)
    for (double y = -half_y + 0.25; y < half_y; y += 0.5)
      if (in(Vec3(x, y, height(x, y)))) sum += 0.25 / normal(x, y).z();
  return sum;
}

struct Result {
  gapfront::Sheet sheet;
  gapfront::GapMap map;
  gapfront::Verdict verdict;
};
inline gapfront::SheetOptions options(double edge = 6) {
  gapfront::SheetOptions o;
  o.edge = edge, o.seal = sheet_shapes::rectangle(-half_x, -half_y, half_x, half_y);
  return o;
}
inline Result judged(const Scans& s, const gapfront::SheetOptions& o, double spacing = 1) {
  using namespace gapfront;
  const Surface low(s.lower, {.spacing = spacing, .noise = 0.01}), up(s.upper, {.spacing = spacing, .noise = 0.01});
  Result r;
  r.sheet = cavity::build_sheet(low, up, o);
  GapOptions g;
  g.max_gap = 12;
  r.map = cavity::measure_gap(r.sheet, low, up, {}, g);
  ToleranceOptions t;
  t.minus = t.plus = 0.5;
  r.verdict = conformity::judge(r.sheet, r.map, t);
  return r;
}

inline const Where nothing = [](const Vec3&) { return false; };
inline Where disc(double x, double y, double radius) {
  return [=](const Vec3& p) { return std::hypot(p.x() - x, p.y() - y) < radius; };
}
/// A strip through (x, y) at an angle from the X axis, right across.
inline Where strip(double x, double y, double angle, double width) {
  return [=](const Vec3& p) {
    return std::abs(-(p.x() - x) * std::sin(angle) + (p.y() - y) * std::cos(angle)) < width / 2;
  };
}

}  // namespace dish
