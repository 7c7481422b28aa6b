// Nominal surfaces as if scanned, and the gap between two of them.
#include <cmath>
#include <limits>

#include "core/neighbours.hpp"
#include "core/parallel.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

/// Gives nodes without a value the mean of their neighbours that have one, ring by ring.
void fill_from_around(const Mesh& mesh, std::vector<double>& value) {
  const auto around = neighbours(mesh);
  for (bool more = true; more;) {
    more = false;
    const std::vector<double> before = value;
    for (std::size_t i = 0; i < value.size(); ++i) {
      if (std::isfinite(before[i])) continue;
      double sum = 0;
      int count = 0;
      for (int j : around[i])
        if (std::isfinite(before[j])) sum += before[j], ++count;
      if (count > 0) value[i] = sum / count, more = true;
    }
  }
}

}  // namespace

Surface surface_of(const Mesh& mesh, double spacing) {
  std::vector<Vec3> points;
  double covered = 0;  // in points
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.points[t[0]], &b = mesh.points[t[1]], &c = mesh.points[t[2]];
    covered += 0.5 * (b - a).cross(c - a).norm() / (spacing * spacing);
    // What is left of a triangle's share goes on to the next, so that small ones count as well. Additive recurrence
    // with the plastic number over all points: even in large triangles, and without a pattern from one small one to the
    // next.
    while (double(points.size()) < covered) {
      const double k = double(points.size());
      double u = std::fmod(0.5 + 0.7548776662466927 * k, 1.0), v = std::fmod(0.5 + 0.5698402909980532 * k, 1.0);
      if (u + v > 1) u = 1 - u, v = 1 - v;
      points.push_back(a + u * (b - a) + v * (c - a));
    }
  }
  if (points.empty()) throw Error(Fault::input, "nominal mesh: no triangle has an area; export it again");
  return {std::move(points), {.spacing = spacing, .noise = 0}};
}

std::vector<double> nominal_surfaces_gap(const Sheet& sheet, const Surface& lower, const Surface& upper,
                                         const GapOptions& options, const Progress& progress) {
  std::vector<double> out(sheet.size(), std::numeric_limits<double>::quiet_NaN());
  report_progress(progress, "nominal gap", 0);
  parallel_for(out.size(), [&](std::size_t i) {
    const NodeGap g = measure_gap_at(lower, upper, sheet.mesh.points[i], sheet.normals[i], options);
    if (g.measured && g.gap > 0) out[i] = g.gap;
  });
  double found = 0, all = 0;
  for (std::size_t i = 0; i < out.size(); ++i) {
    all += sheet.area[i];
    if (std::isfinite(out[i])) found += sheet.area[i];
  }
  // As for the scans: with less, the nominal would be that of a minority of the part.
  if (!(found > 0.5 * all))
    throw Error(Fault::measurement,
                "cavity.surfaces: the nominal surfaces face each other on only " +
                    std::to_string(int(std::lround(100 * found / std::max(all, 1e-9)))) +
                    " % of the sheet; they must be in tool coordinates, closed, and their unit right");
  fill_from_around(sheet.mesh, out);
  report_progress(progress, "nominal gap", 1);
  return out;
}

}  // namespace gapfront::cavity
