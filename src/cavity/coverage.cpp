#include "cavity/coverage.hpp"
#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <optional>
#include "core/parallel.hpp"
#include "core/sheet_parts.hpp"

namespace gapfront::cavity {
namespace {

/// A disc of this many spacings is free of points by chance once in 3·10⁸ places where points lie at random (e^(−π
/// r²)), and once in a hundred only where they lie twice as far apart as the scan's own spacing. A hole of 5 spacings
/// shows.
constexpr double kHoleInSpacings = 2.5;
constexpr int kMaxCuts = 8;

struct Asked {
  Vec3 at, normal;
  double off;  ///< how far a point of the face may lie off along the normal, mm
};

/// Does a point lie on the disc of `radius` about a place? What lies off it by more than half of its distance aside is
/// another wall.
bool on_disc(const Asked& a, double radius, const Vec3& point) {
  const Vec3 d = point - a.at;
  const double height = std::abs(d.dot(a.normal)), aside2 = d.squaredNorm() - height * height;
  return aside2 < radius * radius && height <= a.off + 0.5 * std::sqrt(std::max(0.0, aside2));
}

/// A point on the disc of `radius` about a place; none where it is empty.
std::optional<Vec3> point_on_disc(const Surface& scan, const Asked& a, double radius) {
  const double reach = std::hypot(radius, a.off + 0.5 * radius);
  const Surface::Found near = scan.nearest(a.at, reach);
  if (near.index < 0) return std::nullopt;
  if (on_disc(a, radius, near.point)) return near.point;
  thread_local std::vector<int> found;
  scan.within(a.at, reach, found);
  for (int i : found)
    if (on_disc(a, radius, scan.points()[i])) return scan.points()[i];
  return std::nullopt;
}

/// Share of each node's neighbours that are marked.
std::vector<double> marked_beside(const Mesh& mesh, const std::vector<char>& marked) {
  // Each edge is met once or twice; so are all of a node's.
  std::vector<double> met(marked.size(), 0), out(marked.size(), 0);
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k)
      for (int l = 1; l < 3; ++l) {
        const auto a = std::size_t(t[k]), b = std::size_t(t[(k + l) % 3]);
        ++met[a], out[a] += marked[b];
      }
  for (std::size_t i = 0; i < out.size(); ++i) out[i] /= std::max(met[i], 1.0);
  return out;
}

}  // namespace

Vec3 Cut::at(int i) const {
  // Row by row: the upright ones of row r at the even places, those upside down between them.
  int row = 0;
  while (i >= 2 * (k - row) - 1) i -= 2 * (k - row) - 1, ++row;
  const int column = i / 2;
  const double third = i % 2 ? 2.0 / 3 : 1.0 / 3, b = (column + third) / k, c = (row + third) / k;
  return {1 - b - c, b, c};
}

int Cut::holding(const Vec3& b) const {
  const int row = std::clamp(int(b[2] * k), 0, k - 1), column = std::clamp(int(b[1] * k), 0, k - 1 - row);
  const bool turned = b[1] * k - column + b[2] * k - row > 1 && column + row < k - 1;
  return row * (2 * k - row) + 2 * column + turned;
}

Holes find_holes(const Mesh& mesh, const std::vector<Vec3>& places, const std::vector<Vec3>& normals,
                 const Surface& scan, double slack) {
  Holes out;
  const std::size_t triangles = mesh.triangles.size();
  out.cut.resize(triangles), out.bare.assign(triangles, 0), out.node.assign(places.size(), 0);
  double longest_of_all = 0, coarsest = 0;
  std::vector<double> longest(triangles, 0), around(places.size(), 0);
  std::vector<Cut> fine(triangles);
  for (std::size_t t = 0; t < triangles; ++t) {
    const auto& v = mesh.triangles[t];
    for (int k = 0; k < 3; ++k) longest[t] = std::max(longest[t], (places[v[k]] - places[v[(k + 1) % 3]]).norm());
    for (int k : v) around[k] = std::max(around[k], longest[t]);
    fine[t].k = std::clamp(int(std::ceil(longest[t] / scan.spacing())), 1, kMaxCuts);
    longest_of_all = std::max(longest_of_all, longest[t]);
    coarsest = std::max(coarsest, longest[t] / fine[t].k);
  }
  // A dense scan shows holes far below what matters: a third of an edge is soon asked, and 4 mm is a third of the
  // narrowest strip that must never be missed. Discs must not slip through between the places that are asked.
  const double radius = out.radius =
      std::max({kHoleInSpacings * scan.spacing(), std::min(longest_of_all / 3, 4.0), 1.7 * coarsest});
  const double common = slack + 0.5 * scan.spacing() + 4 * scan.noise();
  const auto asked = [&](std::size_t t, const Cut& cut, int i) {
    const auto& v = mesh.triangles[t];
    const Vec3 b = cut.at(i);
    Vec3 n = b[0] * normals[v[0]] + b[1] * normals[v[1]] + b[2] * normals[v[2]];
    // A chord as long as a third of the radius stays within a seventieth of it: a tenth of the edge is three times
    // that.
    return Asked{b[0] * places[v[0]] + b[1] * places[v[1]] + b[2] * places[v[2]],
                 n.squaredNorm() > 0 ? Vec3(n.normalized()) : normals[v[0]], common + 0.1 * longest[t]};
  };
  parallel_for(triangles, [&](std::size_t t) {
    const Cut& cut = fine[t];
    std::array<Asked, kMaxCuts * kMaxCuts> places_of;
    for (int i = 0; i < cut.size(); ++i) places_of[i] = asked(t, cut, i);
    std::uint64_t open = ~std::uint64_t(0) >> (64 - cut.size());
    // From the middle, whose point answers for most of them.
    for (int i = cut.holding(Vec3::Constant(1.0 / 3)); open; i = std::countr_zero(open)) {
      open &= ~(std::uint64_t(1) << i);
      const auto point = point_on_disc(scan, places_of[i], radius);
      if (!point) {
        out.bare[t] |= std::uint64_t(1) << i;
        continue;
      }
      // It lies on its neighbours' discs too: of some fifty places only a few need a search.
      for (std::uint64_t rest = open; rest; rest &= rest - 1)
        if (const int j = std::countr_zero(rest); on_disc(places_of[j], radius, *point)) open ^= std::uint64_t(1) << j;
    }
    if (out.bare[t]) out.cut[t] = cut;
  });
  parallel_for(places.size(), [&](std::size_t i) {
    out.node[i] = !point_on_disc(scan, {places[i], normals[i], common + 0.1 * around[i]}, radius);
  });
  std::vector<Vec3> middles;
  for (std::size_t t = 0; t < triangles; ++t)
    for (int i = 0; i < out.cut[t].size(); ++i)
      if (out.bare_at(t, i)) middles.push_back(asked(t, out.cut[t], i).at);
  for (std::size_t i = 0; i < places.size(); ++i)
    if (out.node[i]) middles.push_back(places[i]);
  if (middles.empty()) return out;
  // All of an empty disc is a hole, not its middle alone.
  const Surface discs(std::move(middles), {.spacing = radius, .noise = 0});
  parallel_for(triangles, [&](std::size_t t) {
    const Vec3& corner = places[mesh.triangles[t][0]];
    if (discs.nearest(corner, radius + longest[t]).index < 0) return;
    out.cut[t] = fine[t];
    for (int i = 0; i < fine[t].size(); ++i)
      if (discs.nearest(asked(t, fine[t], i).at, radius).index >= 0) out.bare[t] |= std::uint64_t(1) << i;
  });
  parallel_for(places.size(), [&](std::size_t i) {
    if (!out.node[i]) out.node[i] = discs.nearest(places[i], radius).index >= 0;
  });
  return out;
}

std::vector<double> bare_area(const Mesh& mesh, const Holes& one, const Holes& other) {
  std::vector<double> out(mesh.points.size(), 0);
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    if (one.bare[t] == 0 && other.bare[t] == 0) continue;
    const auto& v = mesh.triangles[t];
    const double area =
        0.5 * (mesh.points[v[1]] - mesh.points[v[0]]).cross(mesh.points[v[2]] - mesh.points[v[0]]).norm();
    // The finer cut asks; the other answers for the place.
    const Holes& fine = one.cut[t].k >= other.cut[t].k ? one : other;
    const Holes& coarse = &fine == &one ? other : one;
    for (int i = 0; i < fine.cut[t].size(); ++i) {
      const Vec3 b = fine.cut[t].at(i);
      if (!fine.bare_at(t, i) && !coarse.bare_at(t, coarse.cut[t].holding(b))) continue;
      // Shared out by the coordinates: over a whole triangle that is a third for each corner, exactly.
      for (int k = 0; k < 3; ++k) out[v[k]] += b[k] * area / fine.cut[t].size();
    }
  }
  return out;
}

bool drop_edge_of_bends(const Sheet& sheet, const std::vector<char>& unresolved, GapMap& map) {
  // Fewer nodes are chance, as everywhere; a third of a node's neighbours is two of six, on a straight edge.
  constexpr std::size_t kFewestNodes = 4;
  constexpr double kThird = 0.3;
  const std::size_t n = sheet.size();
  std::vector<char> failed(n, 0), bend(n, 0);
  for (std::size_t i = 0; i < n; ++i)
    failed[i] = unresolved[i] && !map.nodes[i].measured && !is_masked(sheet, i) &&
                (map.made_up.empty() || !map.made_up[i]) && map.unseen_lower[i] + map.unseen_upper[i] <= 0;
  // Chance lets single nodes within a bend be measured: what failed on both sides of one is one place.
  std::vector<char> joined = failed;
  const auto touched = marked_beside(sheet.mesh, failed);
  for (std::size_t i = 0; i < n; ++i) joined[i] = joined[i] || touched[i] > kThird;
  for (const auto& part : connected_parts(sheet, joined)) {
    const auto of_it = [&](int i) { return failed[std::size_t(i)] != 0; };
    if (std::size_t(std::count_if(part.begin(), part.end(), of_it)) < kFewestNodes) continue;
    for (const int i : part) bend[std::size_t(i)] = failed[std::size_t(i)];
  }
  const auto beside = marked_beside(sheet.mesh, bend);
  bool any = false;
  for (std::size_t i = 0; i < n; ++i)
    if (map.nodes[i].measured && beside[i] > kThird) map.nodes[i].measured = false, any = true;
  return any;
}

}  // namespace gapfront::cavity
