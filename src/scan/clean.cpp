// Cleaning: exact duplicates, far clutter, statistical outliers, in this order; every removal is counted.
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdio>
#include <numeric>
#include "core/joined_sets.hpp"
#include "core/parallel.hpp"
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"
#include "scan/estimate.hpp"
#include "scan/outliers.hpp"

namespace gapfront::scan {
namespace {

/// Puts the points into one order, whatever that of the file: by cell, so that neighbours stay close in memory, and in
/// it by coordinates and normal. Sums, samples and first-found points further on then never depend on the file's order.
void sort_points(Cloud& cloud, const cells::Grid& grid) {
  const bool normals = !cloud.normals.empty();
  const auto before = [&](std::uint32_t a, std::uint32_t b) {
    for (int k = 0; k < 3; ++k)
      if (cloud.points[a][k] != cloud.points[b][k]) return cloud.points[a][k] < cloud.points[b][k];
    // By their bits: a normal may be no number.
    for (int k = 0; normals && k < 3; ++k) {
      const auto m = std::bit_cast<std::uint32_t>(cloud.normals[a][k]),
                 n = std::bit_cast<std::uint32_t>(cloud.normals[b][k]);
      if (m != n) return m < n;
    }
    return false;
  };
  std::vector<Vec3> points(cloud.points.size());
  std::vector<Vec3f> directions(cloud.normals.size());
  const std::uint32_t* first = grid.begin(0);
  parallel_for(
      grid.cells(),
      [&](std::size_t c) {
        std::vector<std::uint32_t> in(grid.begin(c), grid.end(c));
        std::sort(in.begin(), in.end(), before);
        for (std::size_t k = 0, to = std::size_t(grid.begin(c) - first); k < in.size(); ++k, ++to) {
          points[to] = cloud.points[in[k]];
          if (normals) directions[to] = cloud.normals[in[k]];
        }
      },
      256);
  cloud.points = std::move(points), cloud.normals = std::move(directions);
}

/// Removes the flagged points; returns how many.
std::uint64_t drop(Cloud& cloud, const Flags& out) {
  if (std::find(out.begin(), out.end(), 1) == out.end()) return 0;
  std::size_t to = 0;
  const bool normals = !cloud.normals.empty();
  for (std::size_t i = 0; i < cloud.points.size(); ++i) {
    if (out[i]) continue;
    cloud.points[to] = cloud.points[i];
    if (normals) cloud.normals[to] = cloud.normals[i];
    ++to;
  }
  const std::uint64_t gone = cloud.points.size() - to;
  cloud.points.resize(to);
  if (normals) cloud.normals.resize(to);
  return gone;
}

/// Flags all but the first of points with equal coordinates, which stand beside each other in sorted points.
Flags find_duplicates(const std::vector<Vec3>& points) {
  Flags out(points.size(), 0);
  for (std::size_t i = 1; i < points.size(); ++i) out[i] = points[i] == points[i - 1];
  return out;
}

/// Such scans have no spacing: it is 0 within a place, and that of the places between them.
[[noreturn]] void refuse_clusters(const Scan& scan, const Pitch& pitch) {
  char line[320];
  std::snprintf(
      line, sizeof line,
      ": the points stand in close clusters at %.0f %% of the places, as near-duplicates in merged or repeated "
      "scans do; thin the scan evenly, one point a place, or export the scans one by one",
      100 * pitch.crowded);
  throw Error(Fault::input, scan.path + line);
}

/// Flags small islands: cells of half the clutter distance, joined when they touch, so that islands are parted by gaps
/// between one half and three halves of it at least. The first point of each cell of `fine` stands for them all.
Flags find_clutter(const std::vector<Vec3>& points, const cells::Grid& fine, double distance, double fraction) {
  std::vector<Vec3> standing(fine.cells());
  for (std::size_t c = 0; c < standing.size(); ++c) standing[c] = points[*fine.begin(c)];
  const cells::Grid grid(standing, distance / 2);
  std::vector<std::uint32_t> parent(grid.cells());
  std::iota(parent.begin(), parent.end(), 0u);
  // The 13 neighbours with a lower key are enough: joining is mutual.
  for (int dx = -1; dx <= 0; ++dx)
    for (int dy = -1; dy <= 1; ++dy)
      for (int dz = -1; dz <= 1; ++dz) {
        if (dx == 0 && (dy > 0 || (dy == 0 && dz >= 0))) continue;
        const std::uint64_t shift = std::uint64_t(dx) * cells::Grid::kX + std::uint64_t(dy) * cells::Grid::kY +
                                    std::uint64_t(dz) * cells::Grid::kZ;
        std::size_t other = 0;
        for (std::size_t c = 0; c < grid.cells(); ++c) {
          const std::uint64_t wanted = grid.key(c) + shift;
          while (other < grid.cells() && grid.key(other) < wanted) ++other;
          if (other == grid.cells() || grid.key(other) != wanted) continue;
          join(parent, std::uint32_t(c), std::uint32_t(other));
        }
      }
  std::vector<std::uint64_t> held(grid.cells(), 0);
  for (std::size_t c = 0; c < grid.cells(); ++c)
    for (const auto* f = grid.begin(c); f != grid.end(c); ++f)
      held[root(parent, std::uint32_t(c))] += fine.end(*f) - fine.begin(*f);
  const std::uint64_t largest = *std::max_element(held.begin(), held.end());
  const double limit = fraction * double(points.size());
  Flags out(points.size(), 0);
  for (std::size_t c = 0; c < grid.cells(); ++c) {
    const std::uint64_t n = held[root(parent, std::uint32_t(c))];
    if (double(n) < limit && n < largest)
      for (const auto* f = grid.begin(c); f != grid.end(c); ++f)
        for (const auto* i = fine.begin(*f); i != fine.end(*f); ++i) out[*i] = 1;
  }
  return out;
}

/// Gap, mm, that parts an island. Tooling balls up to 50 mm across stand clear of the flange by up to their radius
/// where the scanner did not see their underside; touching cells of half the gap join anything closer than that half.
/// On small pieces (or undeclared units) a tenth of the extent is far already.
double clutter_gap(const std::vector<Vec3>& points, double spacing, double spacings) {
  Vec3 low = points[0], high = points[0];
  for (const auto& p : points) {
    low = low.cwiseMin(p);
    high = high.cwiseMax(p);
  }
  return std::max(spacings * spacing, std::min(50.0, 0.1 * (high - low).norm()));
}

/// Whether cells hold all within reach of a place in and about its own, and not many more.
bool serves(const cells::Grid& grid, double reach) { return grid.size() >= reach && grid.size() < 1.5 * reach; }

}  // namespace

CleanReport clean(Scan& scan, const CleanOptions& o, const Progress& progress) {
  CleanReport report;
  auto& points = scan.cloud.points;
  report.read = points.size() + scan.nonfinite_dropped;
  report.nonfinite = scan.nonfinite_dropped;
  if (points.empty()) throw Error(Fault::input, scan.path + ": no finite points; export the scan again");
  report_progress(progress, "clean", 0);
  cells::Grid grid = crowded_grid(points);
  sort_points(scan.cloud, grid);
  grid.points_in_order();
  report.duplicates = drop(scan.cloud, find_duplicates(points));
  // Chosen again: cells for thirty-two readings of each place hold less than one of those that are left.
  if (report.duplicates > 0) grid = crowded_grid(points);
  const Pitch pitch = point_pitch(points, grid);
  report.spacing = pitch.spacing;
  if (pitch.crowded > 0.5) refuse_clusters(scan, pitch);
  report_progress(progress, "clean", 0.3);
  if (report.spacing > 0) {
    const Flags clutter =
        find_clutter(points, grid, clutter_gap(points, report.spacing, o.clutter_distance), o.clutter_fraction);
    report.clutter = drop(scan.cloud, clutter);
    const double reach = noise_reach(report.spacing);
    if (report.duplicates > 0 || !serves(grid, reach))
      grid = cells::Grid(points, reach);
    else if (report.clutter > 0)
      grid.drop(clutter);
    report_progress(progress, "clean", 0.5);
    report.noise = surface_noise(points, grid, report.spacing);
    if (o.outliers) {
      const Flags outliers = find_outliers(points, grid, {report.spacing, report.noise}, o);
      report_progress(progress, "clean", 0.9);
      report.noise = surface_noise(points, grid, report.spacing, &outliers);
      report.outliers = drop(scan.cloud, outliers);
    }
  }
  report.kept = points.size();
  report_progress(progress, "clean", 1);
  return report;
}

}  // namespace gapfront::scan
