// Lower face and gap over the flange's plane, the edge where either leaves the land, and the line along it.
#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>

#include "cavity/seal_contour.hpp"
#include "cavity/surface_reader.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "gapfront/seal.hpp"

namespace gapfront::cavity {
namespace {

// A line of which less has a scanned land beside it is too much of a guess to cut the sheet by. Own choice.
constexpr double kLeastConfidence = 0.7;
// Of the scan's plan area: a smaller part is a ball seat or a groove, not the cavity.
constexpr double kLeastPart = 0.1;

/// Robust spread about a value.
double spread_about(std::vector<double> v, double value) {
  for (double& x : v) x = std::abs(x - value);
  return kMadToSigma * ranked_value(std::move(v), 0.5);
}

/// Perpendicular distance to the upper half at each node that is seen; NaN elsewhere.
std::vector<double> distances(const PlanHeights& h, const FlangeFrame& f, const Surface& upper) {
  std::vector<double> out(h.height.size(), NAN);
  parallel_for(out.size(), [&](std::size_t k) {
    if (!h.seen[k]) return;
    const Vec3 p = f.world(h.grid.u(int(k)), h.grid.v(int(k)), h.height[k]);
    const auto first = upper.nearest(p);
    // A single point is biased by the spacing: of all that are about as near, the mean along the way across.
    std::array<std::vector<float>, 3> xyz;
    const std::size_t n = SurfaceReader::offsets_within(upper, p, first.distance + upper.spacing(), xyz);
    Vec3 mean = Vec3::Zero();
    for (std::size_t i = 0; i < n; ++i) mean += Vec3(xyz[0][i], xyz[1][i], xyz[2][i]) / double(n);
    // On the plane the way across is its normal; off it the nearest point will do, for little depends on it.
    const bool on = std::abs(h.height[k]) < f.tolerance;
    out[k] = on ? std::min(first.distance, std::abs(mean.dot(f.n))) : first.distance;
  });
  return out;
}

/// Robust plane through values over the grid's nodes: value = a + b·u + c·v.
struct GapPlane {
  Vec3 x = Vec3::Zero();
  double spread = 0;
  double at(double u, double v) const { return x.dot(Vec3(1, u, v)); }
};
GapPlane plane_through(const PlanGrid& g, const std::vector<int>& nodes, const std::vector<double>& value) {
  GapPlane p;
  std::vector<double> some;
  for (int k : nodes) some.push_back(value[k]);
  // Lands are where the halves are nearest: the lower third of what lies along the scan's edge.
  p.x(0) = ranked_value(some, 0.3);
  double reach = std::max(0.6, 0.5 * p.x(0));  // lands out of true by some tenths of a millimetre are lands still
  for (int round = 0; round < 6; ++round) {
    Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
    Vec3 rhs = Vec3::Zero();
    std::vector<double> off;
    for (int k : nodes) {
      const Vec3 row(1, g.u(k), g.v(k));
      const double r = value[k] - p.x.dot(row);
      if (std::abs(r) > reach) continue;
      a += row * row.transpose(), rhs += row * value[k];
      off.push_back(r);
    }
    if (off.size() < 12) return p;
    p.spread = spread_about(off, ranked_value(off, 0.5));
    p.x = a.ldlt().solve(rhs);
    reach = std::max(4 * p.spread, 0.05);
  }
  return p;
}

/// How far each node is from the edge of the scan, in steps of a cell, up to `most`.
std::vector<int> steps_from_edge(const PlanHeights& h, int most) {
  const PlanGrid& g = h.grid;
  std::vector<int> out(h.height.size(), most + 1), now, next;
  for (int k = 0; k < g.size(); ++k)
    if (h.outside[k]) out[k] = 0, now.push_back(k);
  for (int step = 1; step <= most; ++step, now.swap(next)) {
    next.clear();
    for (int k : now) {
      const int i = k % g.nu, j = k / g.nu;
      for (const auto& [di, dj] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
        if (i + di < 0 || j + dj < 0 || i + di >= g.nu || j + dj >= g.nv) continue;
        const int m = g.at(i + di, j + dj);
        if (out[m] > step) out[m] = step, next.push_back(m);
      }
    }
  }
  return out;
}

double value_at(const PlanGrid& g, const std::vector<double>& f, double u, double v) {
  const double x = std::clamp((u - g.u0) / g.cell, 0.0, g.nu - 1.001),
               y = std::clamp((v - g.v0) / g.cell, 0.0, g.nv - 1.001);
  const int i = int(x), j = int(y);
  const double s = x - i, t = y - j;
  return (1 - t) * ((1 - s) * f[g.at(i, j)] + s * f[g.at(i + 1, j)]) +
         t * ((1 - s) * f[g.at(i, j + 1)] + s * f[g.at(i + 1, j + 1)]);
}

struct Edge {
  std::vector<double> field;  ///< positive where face or gap has left the land by more than `level`
  double level = 0;
  /// The edge is a radius, over which the depth grows with the square of the way in; otherwise a corner.
  bool radius = false;
};

/// What is not known comes from around. Only the sign counts there: a deep dish on one side of a masked ball must not
/// push the line out to the other.
void bridge_edge(const PlanGrid& g, Edge& e, const std::vector<char>& known, const std::vector<char>& outside) {
  std::vector<double> sign = e.field;
  for (double& x : sign) x = std::clamp(x, -e.level, e.level);
  bridge(g, sign, known, outside);
  for (std::size_t k = 0; k < sign.size(); ++k)
    if (!known[k]) e.field[k] = sign[k];
}

/// How far outside the line at `level` the edge begins, mm. `x` runs inwards from the line, `f` is depth − level.
template <class F>
double way_back(const PlanGrid& g, const Edge& e, F&& f) {
  const double step = 0.25 * g.cell, most = 6 * g.cell;
  if (!e.radius) {  // as a corner: straight back along the slope
    const double slope = (f(2 * step) - f(-2 * step)) / (4 * step);
    return slope > 0 ? std::min(e.level / slope, 3 * g.cell) : 0;
  }
  // Depth (x² + E)/2R over a radius R, where E is what the local planes average in: the variance of their weights
  // (1 − r²)² with a reach of 1.5 cells, along one axis. Of the ways in to `level` and to four times it, both R and the
  // beginning follow: with D between them, 3x² − 2Dx − D² + 3E = 0.
  const double variance = 1.5 * 1.5 * g.cell * g.cell / 8;
  double before = 0;
  for (double x = step; x <= most; x += step) {
    const double now = f(x);
    if (now >= 3 * e.level) {
      const double d = x - step * (now - 3 * e.level) / std::max(now - before, 1e-9);
      return std::min((d + std::sqrt(std::max(0.0, 4 * d * d - 9 * variance))) / 3, 3 * g.cell);
    }
    before = now;
  }
  return 0;
}

/// Each corner of the line is moved outwards to where the edge begins, across the line.
std::vector<PlanPoint> moved_outwards(const PlanGrid& g, const Edge& e, const std::vector<PlanPoint>& line) {
  std::vector<PlanPoint> out;
  const std::size_t n = line.size();
  for (std::size_t k = 0; k < n; ++k) {
    const PlanPoint &p = line[k], &a = line[(k + n - 2) % n], &b = line[(k + 2) % n];
    const double length = std::max(std::hypot(b.u - a.u, b.v - a.v), 1e-9);
    const double nu = (b.v - a.v) / length, nv = -(b.u - a.u) / length;  // outwards: the line runs counter-clockwise
    const double way = way_back(g, e, [&](double x) { return value_at(g, e.field, p.u - x * nu, p.v - x * nv); });
    out.push_back({p.u + way * nu, p.v + way * nv});
  }
  // One noisy slope must not make a spike: the mean of five neighbours, of the ways only in effect.
  std::vector<PlanPoint> smooth = out;
  for (std::size_t k = 0; k < n; ++k) {
    smooth[k] = {0, 0};
    for (std::size_t s = 0; s < 5; ++s) {
      const PlanPoint& q = out[(k + n - 2 + s) % n];
      smooth[k].u += q.u / 5, smooth[k].v += q.v / 5;
    }
  }
  return smooth;
}

/// Width of the scanned land outside each corner of the line, mm; 0: there is none. Looks up to `most` mm far.
std::vector<double> land_beside(const PlanHeights& h, const std::vector<char>& land, const std::vector<PlanPoint>& line,
                                double most) {
  const PlanGrid& g = h.grid;
  std::vector<double> out;
  const std::size_t n = line.size();
  for (std::size_t k = 0; k < n; ++k) {
    const PlanPoint &p = line[k], &a = line[(k + n - 1) % n], &b = line[(k + 1) % n];
    const double length = std::max(std::hypot(b.u - a.u, b.v - a.v), 1e-9);
    const double nu = (b.v - a.v) / length, nv = -(b.u - a.u) / length;
    double width = 0;
    int missed = 0;
    for (double s = 0.5 * g.cell; s <= most && missed < 3; s += 0.5 * g.cell) {
      const int i = int(std::lround((p.u + s * nu - g.u0) / g.cell)),
                j = int(std::lround((p.v + s * nv - g.v0) / g.cell));
      if (i < 0 || j < 0 || i >= g.nu || j >= g.nv) break;
      if (land[g.at(i, j)])
        width = s, missed = 0;
      else
        ++missed;
    }
    out.push_back(width);
  }
  return out;
}

/// The line of one edge, if it is one; sets confidence and land width.
bool trace(const PlanHeights& h, const FlangeFrame& f, const Edge& e, const std::vector<char>& land,
           const std::vector<Mask>& masks, SealProposal& out) {
  int scanned = 0;
  for (char o : h.outside) scanned += !o;
  PlanContour c = largest_part(h.grid, e.field, h.outside, int(kLeastPart * scanned));
  // Past a mask the line goes straight on: what is bridged there is no more than the sign of what lies around.
  std::erase_if(c.line, [&](const PlanPoint& p) {
    return std::any_of(masks.begin(), masks.end(), [&](const Mask& m) {
      const Vec3 at = f.local(m.centre);
      return std::hypot(p.u - at.x(), p.v - at.y()) < m.radius + h.grid.cell;
    });
  });
  if (c.line.size() < 12) return false;
  // Resampled evenly enough by the grid; every corner stands for about the same length.
  const auto widths = land_beside(h, land, c.line, 0.25 * std::sqrt(std::abs(polygon_area(c.line))));
  std::vector<double> some;
  for (double w : widths)
    if (w >= h.grid.cell) some.push_back(w);
  out.confidence = double(some.size()) / double(widths.size());
  out.land_width = ranked_value(some, 0.5);
  auto line = moved_outwards(h.grid, e, c.line);
  if (!simple_polygon(line)) line = c.line;
  std::vector<PlanPoint> fewer = simplified(line, 0.2 * h.grid.cell);
  if (!simple_polygon(fewer)) fewer = line;
  if (!simple_polygon(fewer)) return false;
  out.line.clear();
  for (const PlanPoint& p : fewer) out.line.push_back(f.world(p.u, p.v, 0));
  out.u = 0.5 * h.grid.cell;  // half a cell: what the tests on invented dishes show
  return true;
}

}  // namespace

SealProposal propose_seal(const Surface& lower, const Surface& upper, const std::vector<Mask>& masks) {
  SealProposal out;
  const auto flange = find_flange(lower, upper);
  if (!flange) return out;
  const FlangeFrame& f = *flange;
  out.plane_at = f.at, out.plane_normal = f.n;
  out.found = SealFound::no_edge;
  const PlanHeights h = plan_heights(lower, f, masks);
  const PlanGrid& g = h.grid;
  if (g.size() == 0) return out;
  std::vector<double> gap = distances(h, f, upper);

  // Lands: on the plane, along the edge of the scan. A twenty-fifth of the size: a flange is seldom narrower.
  const int band = std::max(3, int(0.04 * std::hypot(g.nu, g.nv)));
  const auto steps = steps_from_edge(h, band);
  std::vector<int> rim;
  std::vector<double> flat, off_plane;
  for (int k = 0; k < g.size(); ++k) {
    if (!h.seen[k] || h.outside[k]) continue;
    const bool on = std::abs(h.height[k]) < f.tolerance;
    if (on && steps[k] <= band && std::isfinite(gap[k])) rim.push_back(k);
    if (on) flat.push_back(h.height[k]);
    if (!on && std::isfinite(gap[k])) off_plane.push_back(gap[k]);
  }
  if (rim.size() < 30) return out;
  const GapPlane lands = plane_through(g, rim, gap);
  std::vector<double> between;
  for (int k : rim) between.push_back(gap[k]);
  out.land_gap = ranked_value(between, 0.5);
  out.land_spread = lands.spread;

  std::vector<double> inner;  // the cavity's own distance: off the plane, or far from the edge of the scan
  for (int k = 0; k < g.size(); ++k)
    if (h.seen[k] && !h.outside[k] && steps[k] > band && std::isfinite(gap[k])) inner.push_back(gap[k]);
  const double cavity = ranked_value(off_plane.size() > inner.size() / 4 ? off_plane : inner, 0.5);
  const double rise = cavity - ranked_value(between, 0.3);

  // First: the gap leaves the land. It must rise by a quarter of itself and far beyond what the lands are out of true.
  if (rise > std::max({0.25 * cavity, 10 * lands.spread, 8 * (lower.noise() + upper.noise())})) {
    Edge e;
    e.level = std::max({0.1 * rise, 5 * lands.spread, 4 * (lower.noise() + upper.noise())});
    e.field.assign(gap.size(), -e.level);
    std::vector<char> known(gap.size(), 0), land(gap.size(), 0);
    for (int k = 0; k < g.size(); ++k) {
      if (!std::isfinite(gap[k]) || h.outside[k]) continue;
      // A wall that faces the other half's rim may be near it: what is off the plane is no land.
      const double above = gap[k] - lands.at(g.u(k), g.v(k));
      e.field[k] = std::abs(h.height[k]) > f.tolerance ? std::max(above - e.level, rise / 2) : above - e.level;
      known[k] = 1, land[k] = e.field[k] <= 0;
    }
    bridge_edge(g, e, known, h.outside);
    if (trace(h, f, e, land, masks, out)) out.found = SealFound::land;
  }
  // Else: the face leaves the plane of the flange.
  if (out.found == SealFound::no_edge) {
    Edge e;
    e.radius = true;
    // Below a quarter of a millimetre a flange's own waviness would be an edge.
    e.level = std::max(5 * spread_about(flat, ranked_value(flat, 0.5)), 0.25);
    e.field.resize(gap.size());
    std::vector<char> land(gap.size(), 0);
    const double zero = ranked_value(flat, 0.5);
    for (int k = 0; k < g.size(); ++k) {
      e.field[k] = std::abs(h.height[k] - zero) - e.level;
      land[k] = h.seen[k] && !h.outside[k] && e.field[k] <= 0;
    }
    bridge_edge(g, e, h.seen, h.outside);
    if (trace(h, f, e, land, masks, out)) out.found = SealFound::rim;
  }
  if (out.ok() && out.confidence < kLeastConfidence) out.found = SealFound::open, out.line.clear();
  return out;
}

SealProposal propose_seal_in_frame(const Surface& lower, const Surface& upper, const std::vector<Mask>& masks) {
  SealProposal out = propose_seal(lower, upper, masks);
  // Beyond 30° a prism along Z would cut the walls askew.
  if (out.ok() && std::abs(out.plane_normal.z()) < 0.866) out.found = SealFound::tilted, out.line.clear();
  return out;
}

std::vector<Region> proposed_lands(const SealProposal& seal) {
  // Under 5 mm the tube would be narrower than what a seat or a groove takes.
  if (!seal.ok() || seal.land_width < 5) return {};
  Region r;
  const std::size_t n = seal.line.size();
  const Vec3 up = seal.plane_normal;
  Vec3 area = Vec3::Zero();
  for (std::size_t k = 0; k < n; ++k) area += seal.line[k].cross(seal.line[(k + 1) % n]);
  const double sense = area.dot(up) < 0 ? -1 : 1;
  for (std::size_t k = 0; k <= n; ++k) {
    const Vec3 &p = seal.line[k % n], &a = seal.line[(k + n - 1) % n], &b = seal.line[(k + 1) % n];
    const Vec3 out = sense * ((p - a).normalized() + (b - p).normalized()).cross(up).normalized();
    r.path.push_back(p + 0.5 * seal.land_width * out);
  }
  // A tenth of the width stays free on either side: edges are rounded and chipped.
  r.radius = 0.4 * seal.land_width;
  return {r};
}

}  // namespace gapfront::cavity
