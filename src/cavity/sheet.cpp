// build_sheet: the steps from scan to sheet, in order.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include "cavity/coverage.hpp"
#include "cavity/fill.hpp"
#include "cavity/reconstruct.hpp"
#include "cavity/remesh.hpp"
#include "cavity/sheet_mesh.hpp"
#include "cavity/thin_scan.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

using enum cavity::Mark;

using Loops = std::vector<std::vector<int>>;
/// Beside those of remesh.hpp, until the boundary is placed: a vertex on the edge of a mask.
constexpr char kOnMask = 4;
// Nodes stand at whole parts of a millimetre, of a nanometre each: what keeps every bit of them, as a page for its
// trials does, is half as long.
constexpr double kPlaces = 1 << 20;

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

/// Closes holes up to `limit` across with a fan around their middle; returns whether there were any.
bool close_small_holes(Mesh& m, std::vector<char>& mark, double limit) {
  const auto loops = cavity::boundary_loops(m);
  if (loops.empty()) return false;
  bool any = false;
  const std::size_t outer = outer_loop(m, loops);
  for (std::size_t i = 0; i < loops.size(); ++i) {
    const auto& loop = loops[i];
    // A round hole of the limit's diameter is π limits around: spares the search for the extent of long loops.
    const auto corners = places(m, loop);
    if (i == outer || loop_length(corners) > 4 * limit || extent(corners) > limit) continue;
    const auto wanted = [&](int v) { return mark[v] == on_seal || mark[v] == kOnMask; };
    if (std::any_of(loop.begin(), loop.end(), wanted)) continue;
    any = true;
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
  return any;
}

/// Marks boundary vertices, moves those of the seal exactly onto it, and fixes corners and the meeting points
/// of seal and scan edge.
void place_boundary(Mesh& m, const Loops& loops, std::vector<char>& mark, const cavity::Samples& s,
                    const cavity::SealLine& seal) {
  const auto normals = cavity::quick_normals(m);
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
    cavity::settle_on_seal(s, seal, m.points[rim[i]], n);
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
    if (Vec3 y = x; cavity::settle(s, y, n) && std::abs(n.z()) > 0.3) x.z() += (y - x).dot(n) / n.z();
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
                     const cavity::SealLine& seal) {
  std::vector<double> radius(masks.size(), 0), met(masks.size(), 0);
  for (const auto& loop : loops)
    for (int v : loop)
      for (std::size_t k = 0; k < masks.size() && mark[v] == kOnMask; ++k)
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
void clear_rim(Sheet& sheet, const SheetOptions& o, const cavity::SealLine& seal) {
  if (o.masks.empty() && o.islands.empty()) return;
  const cavity::SealLine outer(o.seal), inner({}, o.islands);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3& p = sheet.mesh.points[i];
    if (!sheet.rim[i]) continue;
    // A twentieth of an edge: nodes of the seal line are on it but for the chords of its curves.
    if (seal.closed() && std::abs(outer.signed_distance(p)) < 0.05 * o.edge) continue;
    const bool on_island = !o.islands.empty() && std::abs(inner.signed_distance(p)) < 0.05 * o.edge;
    if (on_island || depth_in_masks(p, o.masks) > -0.25 * o.edge) sheet.rim[i] = 0;
  }
}

/// Holes, and bites out of the rim, that are left open.
std::vector<Sheet::Lost> open_holes(const Mesh& m, const Loops& loops, const std::vector<char>& mark,
                                    const cavity::SealLine& seal, const std::vector<char>& was) {
  std::vector<Sheet::Lost> out;
  if (loops.empty()) return out;
  const auto add = [&](const std::vector<Vec3>& loop) {
    Sheet::Lost l;
    for (const Vec3& p : loop) l.centre += p / double(loop.size());
    l.area = cavity::loop_area(loop).norm();
    out.push_back(l);
  };
  const std::size_t outer = outer_loop(m, loops);
  for (std::size_t i = 0; i < loops.size(); ++i) {
    const auto& loop = loops[i];
    if (i != outer) {
      const auto cut = [&](int v) { return was[v] == kOnMask || was[v] == on_seal; };
      if (!std::all_of(loop.begin(), loop.end(), cut)) add(places(m, loop));
      continue;
    }
    const auto bitten = [&](int v) { return mark[v] == on_edge && was[v] != kOnMask; };
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
        add(bite);
      }
      k = e;
    }
  }
  return out;
}

double area_of(const Mesh& m) {
  double sum = 0;
  for (const auto& v : m.triangles)
    sum += 0.5 * (m.points[v[1]] - m.points[v[0]]).cross(m.points[v[2]] - m.points[v[0]]).norm();
  return sum;
}

/// The face as the samples show it: cut where they end, at the seal line and at the masks.
struct Draft {
  Mesh mesh;
  std::vector<char> mark;
};

Draft draft_of(const cavity::Samples& samples, const SheetOptions& o, const cavity::SealLine& seal) {
  Draft d;
  d.mesh = cavity::zero_set(samples);
  d.mark.assign(d.mesh.points.size(), on_face);
  cavity::clip(d.mesh, cavity::coverage_field(samples, d.mesh, cavity::quick_normals(d.mesh)), d.mark, on_edge);
  if (!seal.empty()) {
    std::vector<double> distance(d.mesh.points.size());
    parallel_for(distance.size(), [&](std::size_t i) { distance[i] = seal.signed_distance(d.mesh.points[i]); });
    cavity::clip(d.mesh, distance, d.mark, on_seal);
  }
  if (!o.masks.empty()) {
    std::vector<double> depth(d.mesh.points.size());
    parallel_for(depth.size(), [&](std::size_t i) { depth[i] = depth_in_masks(d.mesh.points[i], o.masks); });
    cavity::clip(d.mesh, depth, d.mark, kOnMask);
  }
  return d;
}

/// Pieces of the mesh with their area, the largest first.
std::vector<std::pair<double, Mesh>> pieces_of(const Mesh& m) {
  const auto part = cavity::parts_of(m);
  std::map<int, Mesh> by;
  for (std::size_t t = 0; t < part.size(); ++t) by[part[t]].triangles.push_back(m.triangles[t]);
  std::vector<std::pair<double, Mesh>> out;
  for (auto& [k, piece] : by) {
    piece.points = m.points;
    std::vector<char> none(m.points.size(), 0);
    cavity::drop_unused(piece, none);
    out.push_back({area_of(piece), std::move(piece)});
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  return out;
}

Vec3 middle_of(const std::vector<Vec3>& points) {
  Vec3 sum = Vec3::Zero();
  for (const Vec3& p : points) sum += p / double(points.size());
  return sum;
}

/// Vertices of the pieces that are no cavity.
std::vector<Vec3> clutter_of(const std::vector<std::pair<double, Mesh>>& pieces,
                             const std::vector<std::size_t>& apart) {
  std::vector<Vec3> out;
  for (std::size_t k = 1; k < pieces.size(); ++k)
    if (std::find(apart.begin(), apart.end(), k) == apart.end())
      out.insert(out.end(), pieces[k].second.points.begin(), pieces[k].second.points.end());
  return out;
}

/// Does the scan leave something out inside the seal line that `limit` does not close?
bool has_holes(const Draft& d, const cavity::SealLine& seal, double limit) {
  const auto loops = cavity::boundary_loops(d.mesh);
  if (loops.empty()) return false;
  const std::size_t outer = outer_loop(d.mesh, loops);
  for (std::size_t i = 0; i < loops.size(); ++i) {
    const auto ends = std::count_if(loops[i].begin(), loops[i].end(), [&](int v) { return d.mark[v] == on_edge; });
    if (ends == 0 || (i == outer && !seal.closed())) continue;
    // The end of a clipped side may be marked either way.
    if (ends != std::ptrdiff_t(loops[i].size())) {
      if (ends > 2) return true;
    } else if (loop_length(places(d.mesh, loops[i])) > 4 * limit || extent(places(d.mesh, loops[i])) > limit) {
      return true;
    }
  }
  return false;
}

/// Pieces beside the largest one that are cavity as well: they face the upper half, and the largest does not lie there.
std::vector<std::size_t> pieces_apart(const std::vector<std::pair<double, Mesh>>& pieces, const Surface& upper,
                                      double cell) {
  std::vector<std::size_t> out;
  if (pieces.size() < 2) return out;
  const Surface main(pieces[0].second.points, {.spacing = cell, .noise = 0});
  std::vector<double> gaps;
  for (const Vec3& p : main.points()) gaps.push_back(upper.nearest(p).distance);
  const double usual = median(std::move(gaps));
  for (std::size_t k = 1; k < pieces.size(); ++k) {
    const Mesh& m = pieces[k].second;
    const auto normals = cavity::quick_normals(m);
    std::size_t counts = 0;
    for (std::size_t i = 0; i < m.points.size(); ++i) {
      const Vec3 d = upper.nearest(m.points[i]).point - m.points[i];
      // Facing: within 45°, and not much farther off than the rest of the cavity.
      if (d.dot(normals[i]) > 0.7 * d.norm() && d.norm() < 3 * usual && main.nearest(m.points[i], 2 * cell).index < 0)
        ++counts;
    }
    if (2 * counts > m.points.size()) out.push_back(k);
  }
  return out;
}

}  // namespace

void check_options(const SheetOptions& o) {
  if (!(o.edge > 0) || !(o.min_edge > 0) || o.min_edge > o.edge)
    throw Error(Fault::input, "sheet: cavity.min_edge must be above zero and not above cavity.edge");
}

Sheet cavity::build_sheet(const Surface& lower, const Surface& upper, const SheetOptions& o, const Progress& progress) {
  check_options(o);
  report_progress(progress, "sheet", 0);
  const cavity::SealLine seal(o.seal, o.islands);
  cavity::Samples samples = cavity::sample_face(lower, upper, o, seal);
  report_progress(progress, "sheet", 0.2);
  Draft draft = draft_of(samples, o, seal);
  if (draft.mesh.triangles.empty()) {
    cavity::refuse_thin_scan(lower, o, seal);
    throw Error(Fault::measurement, "sheet: no connected surface inside the seal line; check cavity.seal and the scan");
  }
  if (seal.closed()) cavity::require_seal(area_of(draft.mesh), lower, o, seal);
  const double limit = std::max(3 * lower.spacing(), o.edge);
  auto pieces = pieces_of(draft.mesh);
  auto apart = pieces_apart(pieces, upper, samples.cell);
  // A fleck is no reason for the second look, what a hand can find is.
  const bool guessed = has_holes(draft, seal, limit) || std::any_of(apart.begin(), apart.end(), [&](std::size_t k) {
                         return pieces[k].first > limit * limit;
                       });
  if (guessed) {
    samples = cavity::with_guesses(samples, draft.mesh, clutter_of(pieces, apart), lower, upper, o, seal);
    draft = draft_of(samples, o, seal);
    pieces = pieces_of(draft.mesh);
    apart = pieces_apart(pieces, upper, samples.cell);
  }
  report_progress(progress, "sheet", 0.35);
  std::vector<Sheet::Lost> lost;
  for (std::size_t k : apart) lost.push_back({middle_of(pieces[k].second.points), pieces[k].first});
  Mesh& mesh = draft.mesh;
  std::vector<char>& mark = draft.mark;
  cavity::keep_largest(mesh, mark);
  const bool closed = close_small_holes(mesh, mark, limit);
  const Loops loops = cavity::boundary_loops(mesh);
  const double masked = area_of_masks(mesh, loops, mark, o.masks, seal);
  const std::vector<char> cut = mark;
  place_boundary(mesh, loops, mark, samples, seal);
  for (const auto& l : open_holes(mesh, loops, mark, seal, cut)) lost.push_back(l);
  report_progress(progress, "sheet", 0.5);
  cavity::remesh(mesh, mark, samples, seal, progress);
  // Last, on the points of the scan themselves; small moves only, the triangles are good already.
  const auto normals = cavity::vertex_normals(mesh);
  parallel_for(mesh.points.size(), [&](std::size_t i) {
    if (mark[i] == fixed || mark[i] == on_seal) return;
    Vec3 x = mesh.points[i], n = normals[i];
    const double bend = samples.bend[samples.tree.nearest(x).index];
    if (cavity::settle_on_scan(lower, x, n, bend) && (x - mesh.points[i]).norm() < 0.5 * samples.cell)
      mesh.points[i] = x;
  });
  for (Vec3& p : mesh.points) p = (p * kPlaces).array().round() / kPlaces;
  Sheet sheet = cavity::make_sheet(std::move(mesh));
  sheet.masked_area = masked;
  clear_rim(sheet, o, seal);
  sheet.covered.assign(sheet.size(), 1);
  if (guessed || closed) {
    const cavity::Holes holes = cavity::find_holes(sheet.mesh, sheet.mesh.points, sheet.normals, lower, 0);
    for (std::size_t i = 0; i < sheet.size(); ++i) sheet.covered[i] = !holes.node[i];
    for (double a : cavity::bare_area(sheet.mesh, holes, holes)) sheet.uncovered_area += a;
  }
  for (const auto& l : lost) sheet.uncovered_area += l.area;
  sheet.lost = std::move(lost);
  report_progress(progress, "sheet", 1);
  return sheet;
}

}  // namespace gapfront
