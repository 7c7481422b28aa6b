// build_sheet: the steps from scan to sheet, in order.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include "cavity/reconstruct.hpp"
#include "cavity/remesh.hpp"
#include "cavity/sheet_mesh.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"
#include "geometry/parallel.hpp"

namespace gapfront {
namespace {

using Loops = std::vector<std::vector<int>>;

std::vector<Vec3> places(const Mesh& m, const std::vector<int>& loop) {
  std::vector<Vec3> out;
  for (int v : loop) out.push_back(m.points[v]);
  return out;
}

double loop_length(const std::vector<Vec3>& loop) {
  double sum = 0;
  for (std::size_t i = 0; i < loop.size(); ++i) sum += (loop[(i + 1) % loop.size()] - loop[i]).norm();
  return sum;
}

double extent(const std::vector<Vec3>& loop) {
  double best = 0;
  for (const Vec3& a : loop)
    for (const Vec3& b : loop) best = std::max(best, (a - b).squaredNorm());
  return std::sqrt(best);
}

std::size_t outer_loop(const Mesh& m, const Loops& loops) {
  std::size_t best = 0;
  double longest = -1;
  for (std::size_t i = 0; i < loops.size(); ++i)
    if (const double l = loop_length(places(m, loops[i])); l > longest) longest = l, best = i;
  return best;
}

/// Closes holes up to `limit` across with a fan around their middle.
void close_small_holes(Mesh& m, std::vector<char>& mark, double limit) {
  const auto loops = boundary_loops(m);
  if (loops.empty()) return;
  const std::size_t outer = outer_loop(m, loops);
  for (std::size_t i = 0; i < loops.size(); ++i) {
    const auto& loop = loops[i];
    // A round hole of the limit's diameter is π limits around: spares the search for the extent of long loops.
    const auto corners = places(m, loop);
    if (i == outer || loop_length(corners) > 4 * limit || extent(corners) > limit) continue;
    if (std::any_of(loop.begin(), loop.end(), [&](int v) { return mark[v] == on_seal; })) continue;
    Vec3 middle = Vec3::Zero();
    for (const Vec3& c : corners) middle += c / double(corners.size());
    const int centre = int(m.points.size());
    if (loop.size() == 3) {
      m.triangles.push_back({loop[1], loop[0], loop[2]});
    } else {
      m.points.push_back(middle), mark.push_back(on_face);
      for (std::size_t k = 0; k < loop.size(); ++k)
        m.triangles.push_back({loop[(k + 1) % loop.size()], loop[k], centre});
    }
  }
}

/// Marks boundary vertices, moves those of the seal exactly onto it, and fixes corners and the meeting points
/// of seal and scan edge.
void place_boundary(Mesh& m, const Loops& loops, std::vector<char>& mark, const Samples& s, const SealLine& seal) {
  const auto normals = quick_normals(m);
  std::vector<char> kind(m.points.size(), on_face);
  for (const auto& loop : loops)
    for (int v : loop) kind[v] = mark[v] == on_seal ? on_seal : on_edge;
  for (const auto& loop : loops)
    for (std::size_t i = 0; i < loop.size(); ++i) {
      const int a = loop[i], b = loop[(i + 1) % loop.size()];
      if (kind[a] == on_seal && kind[b] == on_edge) kind[a] = fixed;
      if (kind[a] == on_edge && kind[b] == on_seal) kind[b] = fixed;
    }
  std::vector<int> rim;
  for (const auto& loop : loops)
    for (int v : loop)
      if (mark[v] == on_seal) rim.push_back(v);
  parallel_for(rim.size(), [&](std::size_t i) {
    Vec3 n = normals[rim[i]];
    settle_on_seal(s, seal, m.points[rim[i]], n);
  });
  for (const Vec3& corner : seal.corners()) {
    int best = -1;
    double nearest = 2 * s.cell;  // the clipped mesh has a vertex at least every cell along the line
    for (int v : rim)
      if (const double d = (m.points[v] - corner).head<2>().norm(); d < nearest && kind[v] == on_seal)
        nearest = d, best = v;
    if (best < 0) continue;
    Vec3 n = normals[best];
    Vec3& x = m.points[best];
    x.head<2>() = corner.head<2>();
    if (Vec3 y = x; settle(s, y, n) && std::abs(n.z()) > 0.3) x.z() += (y - x).dot(n) / n.z();
    kind[best] = fixed;
  }
  mark = std::move(kind);
}

/// Area of holes, and of bites out of the rim that the scan does not cover.
double missing_area(const Mesh& m, const Loops& loops, const std::vector<char>& mark, const SealLine& seal) {
  if (loops.empty()) return 0;
  const std::size_t outer = outer_loop(m, loops);
  double sum = 0;
  for (std::size_t i = 0; i < loops.size(); ++i) {
    const auto& loop = loops[i];
    if (i != outer) {
      sum += loop_area(places(m, loop)).norm();
      continue;
    }
    const auto first = std::find_if(loop.begin(), loop.end(), [&](int v) { return mark[v] != on_edge; });
    if (seal.empty() || first == loop.end()) continue;
    const std::size_t n = loop.size(), start = std::size_t(first - loop.begin());
    for (std::size_t k = 0; k < n;) {
      std::size_t e = k + 1;
      std::vector<Vec3> bite{m.points[loop[(start + k) % n]]};
      while (e < n && mark[loop[(start + e) % n]] == on_edge) bite.push_back(m.points[loop[(start + e++) % n]]);
      if (e - k > 1) {
        const auto back = seal.path(m.points[loop[(start + e) % n]], bite[0]);
        bite.insert(bite.end(), back.begin(), back.end() - 1);
        sum += loop_area(bite).norm();
      }
      k = e;
    }
  }
  return sum;
}

void require_seal(const Mesh& m, const Loops& loops, const std::vector<char>& mark) {
  if (loops.empty()) return;
  const auto& outer = loops[outer_loop(m, loops)];
  double on = 0, all = 0;
  for (std::size_t i = 0; i < outer.size(); ++i) {
    const int a = outer[i], b = outer[(i + 1) % outer.size()];
    const double l = (m.points[a] - m.points[b]).norm();
    all += l;
    if (mark[a] != on_edge && mark[b] != on_edge) on += l;
  }
  // Under half: the line and the face do not belong together; a scan with gaps still meets most of its line.
  if (on >= 0.5 * all) return;
  char line[256];
  std::snprintf(line, sizeof line,
                "sheet: only %.0f %% of the sheet's edge lies on the seal line, the scan ends inside it elsewhere; "
                "check cavity.seal against the tool frame and its units, or scan the face out to the flange",
                100 * on / all);
  throw Error(Fault::measurement, line);
}

}  // namespace

Sheet build_sheet(const Surface& lower, const Surface& upper, const SheetOptions& o, const Progress& progress) {
  if (!(o.edge > 0) || !(o.min_edge > 0) || o.min_edge > o.edge)
    throw Error(Fault::input, "sheet: cavity.min_edge must be above zero and not above cavity.edge");
  report_progress(progress, "sheet", 0);
  const SealLine seal(o.seal);
  const Samples samples = sample_face(lower, upper, o, seal);
  report_progress(progress, "sheet", 0.2);
  Mesh mesh = zero_set(samples);
  report_progress(progress, "sheet", 0.35);
  std::vector<char> mark(mesh.points.size(), on_face);
  clip(mesh, coverage_field(samples, mesh, quick_normals(mesh)), mark, on_edge);
  if (!seal.empty()) {
    std::vector<double> distance(mesh.points.size());
    parallel_for(distance.size(), [&](std::size_t i) { distance[i] = seal.signed_distance(mesh.points[i]); });
    clip(mesh, distance, mark, on_seal);
  }
  keep_largest(mesh, mark);
  if (mesh.triangles.empty())
    throw Error(Fault::measurement, "sheet: no connected surface inside the seal line; check cavity.seal and the scan");
  close_small_holes(mesh, mark, std::max(3 * lower.spacing(), o.edge));
  const Loops loops = boundary_loops(mesh);
  place_boundary(mesh, loops, mark, samples, seal);
  if (!seal.empty()) require_seal(mesh, loops, mark);
  const double uncovered = missing_area(mesh, loops, mark, seal);
  report_progress(progress, "sheet", 0.5);
  remesh(mesh, mark, samples, seal, progress);
  // Last, on the points of the scan themselves; small moves only, the triangles are good already.
  const auto normals = vertex_normals(mesh);
  parallel_for(mesh.points.size(), [&](std::size_t i) {
    if (mark[i] == fixed || mark[i] == on_seal) return;
    Vec3 x = mesh.points[i], n = normals[i];
    const double bend = samples.bend[samples.tree.nearest(x).index];
    if (settle_on_scan(lower, x, n, bend) && (x - mesh.points[i]).norm() < 0.5 * samples.cell) mesh.points[i] = x;
  });
  Sheet sheet = make_sheet(std::move(mesh));
  sheet.uncovered_area = uncovered;
  report_progress(progress, "sheet", 1);
  return sheet;
}

}  // namespace gapfront
