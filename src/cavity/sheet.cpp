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
/// Beside those of remesh.hpp, until the boundary is placed: a vertex on the edge of a mask.
constexpr char on_mask = 4;

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
    const auto wanted = [&](int v) { return mark[v] == on_seal || mark[v] == on_mask; };
    if (std::any_of(loop.begin(), loop.end(), wanted)) continue;
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

/// Within a mask: by how much, mm; nothing (negative) outside of all.
double depth_in_masks(const Vec3& p, const std::vector<Mask>& masks) {
  double deepest = -1e300;
  for (const Mask& m : masks) deepest = std::max(deepest, m.radius - (p - m.centre).norm());
  return deepest;
}

/// The part of the face inside the seal line that masks leave out, seen along Z. Each mask is a disc as wide as its
/// edge on the face: its own surface (the ball) says nothing of the face below it.
double area_of_masks(const Mesh& m, const Loops& loops, const std::vector<char>& mark, const std::vector<Mask>& masks,
                     const SealLine& seal) {
  std::vector<double> radius(masks.size(), 0), met(masks.size(), 0);
  for (const auto& loop : loops)
    for (int v : loop)
      for (std::size_t k = 0; k < masks.size() && mark[v] == on_mask; ++k)
        // A cut lies on a chord of the sphere, less than a twentieth of its radius inside.
        if (const Vec3 d = m.points[v] - masks[k].centre; std::abs(d.norm() - masks[k].radius) < 0.05 * masks[k].radius)
          radius[k] += d.head<2>().norm(), met[k] += 1;
  double sum = 0;
  for (std::size_t k = 0; k < masks.size(); ++k) {
    if (met[k] == 0) continue;
    radius[k] /= met[k];
    // Forty steps across hold the area of a disc to a hundredth.
    const double step = radius[k] / 20;
    for (int i = -20; i < 20; ++i)
      for (int j = -20; j < 20; ++j) {
        const Vec3 d(step * (i + 0.5), step * (j + 0.5), 0), p = masks[k].centre + d;
        bool counts = d.norm() < radius[k] && seal.inside(p);
        for (std::size_t l = 0; l < k && counts; ++l)
          counts = met[l] == 0 || (p - masks[l].centre).head<2>().norm() >= radius[l];
        sum += counts * step * step;
      }
  }
  return sum;
}

/// The edges of masks and islands are walls, not the seal line, even where a mask reaches across it.
void clear_rim(Sheet& sheet, const SheetOptions& o, const SealLine& seal) {
  if (o.masks.empty() && o.islands.empty()) return;
  const SealLine outer(o.seal), inner({}, o.islands);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3& p = sheet.mesh.points[i];
    if (!sheet.rim[i]) continue;
    // A twentieth of an edge: nodes of the seal line are on it but for the chords of its curves.
    if (seal.closed() && std::abs(outer.signed_distance(p)) < 0.05 * o.edge) continue;
    const bool on_island = !o.islands.empty() && std::abs(inner.signed_distance(p)) < 0.05 * o.edge;
    if (on_island || depth_in_masks(p, o.masks) > -0.25 * o.edge) sheet.rim[i] = 0;
  }
}

/// Area of holes, and of bites out of the rim that the scan does not cover.
double missing_area(const Mesh& m, const Loops& loops, const std::vector<char>& mark, const SealLine& seal,
                    const std::vector<char>& was) {
  if (loops.empty()) return 0;
  const std::size_t outer = outer_loop(m, loops);
  double sum = 0;
  for (std::size_t i = 0; i < loops.size(); ++i) {
    const auto& loop = loops[i];
    if (i != outer) {
      const auto cut = [&](int v) { return was[v] == on_mask || was[v] == on_seal; };
      if (!std::all_of(loop.begin(), loop.end(), cut)) sum += loop_area(places(m, loop)).norm();
      continue;
    }
    const auto bitten = [&](int v) { return mark[v] == on_edge && was[v] != on_mask; };
    const auto first = std::find_if_not(loop.begin(), loop.end(), bitten);
    if (!seal.closed() || first == loop.end()) continue;
    const std::size_t n = loop.size(), start = std::size_t(first - loop.begin());
    for (std::size_t k = 0; k < n;) {
      std::size_t e = k + 1;
      std::vector<Vec3> bite{m.points[loop[(start + k) % n]]};
      while (e < n && bitten(loop[(start + e) % n])) bite.push_back(m.points[loop[(start + e++) % n]]);
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
  const SealLine seal(o.seal, o.islands);
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
  if (!o.masks.empty()) {
    std::vector<double> depth(mesh.points.size());
    parallel_for(depth.size(), [&](std::size_t i) { depth[i] = depth_in_masks(mesh.points[i], o.masks); });
    clip(mesh, depth, mark, on_mask);
  }
  keep_largest(mesh, mark);
  if (mesh.triangles.empty())
    throw Error(Fault::measurement, "sheet: no connected surface inside the seal line; check cavity.seal and the scan");
  close_small_holes(mesh, mark, std::max(3 * lower.spacing(), o.edge));
  const Loops loops = boundary_loops(mesh);
  const double masked = area_of_masks(mesh, loops, mark, o.masks, seal);
  const std::vector<char> cut = mark;
  place_boundary(mesh, loops, mark, samples, seal);
  if (seal.closed()) require_seal(mesh, loops, mark);
  const double uncovered = missing_area(mesh, loops, mark, seal, cut);
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
  sheet.uncovered_area = uncovered, sheet.masked_area = masked;
  clear_rim(sheet, o, seal);
  report_progress(progress, "sheet", 1);
  return sheet;
}

}  // namespace gapfront
