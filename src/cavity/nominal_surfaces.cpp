// Nominal surfaces as if scanned, and the gap between two of them.
#include <cmath>
#include <limits>

#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"
#include "geometry/neighbours.hpp"
#include "geometry/parallel.hpp"

namespace gapfront {
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

Surface surface_of(const Mesh& mesh, double spacing) { return {sample_mesh(mesh, spacing).points, spacing, 0}; }

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

}  // namespace gapfront
