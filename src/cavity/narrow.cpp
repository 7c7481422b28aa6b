// Where a half bends more sharply than its scan resolves.
#include <algorithm>

#include "cavity/patch.hpp"
#include "core/parallel.hpp"
#include "core/sheet_parts.hpp"
#include "core/statistics.hpp"

namespace gapfront::cavity {

namespace {

/// A bend that is not resolved has many times the u of a flat. Single nodes beyond it are chance or a corner: as
/// everywhere, fewer than four make no place.
constexpr double kMoreThanUsual = 4;
constexpr std::size_t kFewestNodes = 4;

/// The node of the part that is farthest from `from`.
int farthest(const Sheet& sheet, const std::vector<int>& part, const Vec3& from) {
  return *std::max_element(part.begin(), part.end(), [&](int a, int b) {
    return (sheet.mesh.points[a] - from).squaredNorm() < (sheet.mesh.points[b] - from).squaredNorm();
  });
}

NarrowPlace place_of(const Sheet& sheet, const GapMap& map, const std::vector<int>& part) {
  NarrowPlace out;
  Vec3 middle = Vec3::Zero();
  for (const int i : part) middle += sheet.mesh.points[i] / double(part.size());
  const Vec3 end = sheet.mesh.points[farthest(sheet, part, middle)];
  // A place ends between its last node and the next.
  out.length = (sheet.mesh.points[farthest(sheet, part, end)] - end).norm() + sheet.edge_p50;
  double nearest = 1e300;
  for (const int i : part) {
    if (map.nodes[i].measured) out.U = std::max(out.U, map.nodes[i].U);
    if (const double d = (sheet.mesh.points[i] - middle).squaredNorm(); d < nearest)
      nearest = d, out.at = sheet.mesh.points[i];
  }
  return out;
}

}  // namespace

std::vector<NarrowPlace> narrow_places(const Sheet& sheet, const GapMap& map, NarrowPlace::Half half,
                                       const Surface& surface) {
  const std::size_t n = sheet.size();
  const bool lower = half == NarrowPlace::Half::lower;
  std::vector<double> u;
  for (const NodeGap& g : map.nodes)
    if (g.measured) u.push_back(lower ? g.u_lower : g.u_upper);
  const double usual = median(u);
  // Fitted again where U shows that there is something to see.
  std::vector<char> bends(n, 0), marked(n, 0);
  parallel_for(n, [&](std::size_t i) {
    const NodeGap& g = map.nodes[i];
    if (!g.measured || (lower ? g.u_lower : g.u_upper) < kMoreThanUsual * usual) return;
    Scratch scratch;
    const Vec3 at = g.mid + (lower ? -0.5 : 0.5) * g.gap * g.direction, hint = lower ? g.direction : Vec3(-g.direction);
    bends[i] = fit_patch(surface, at, surface.nearest(at).point, hint, 0, scratch).unresolved;
  });
  for (std::size_t i = 0; i < n; ++i) {
    const bool seen = map.unseen_lower.empty() || map.unseen_lower[i] + map.unseen_upper[i] <= 0;
    marked[i] = bends[i] || (!map.nodes[i].measured && seen && !is_masked(sheet, i));
  }
  std::vector<NarrowPlace> out;
  for (const auto& part : connected_parts(sheet, marked))
    if (part.size() >= kFewestNodes && std::any_of(part.begin(), part.end(), [&](int i) { return bends[i]; }))
      out.push_back(place_of(sheet, map, part));
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.length > b.length; });
  return out;
}

}  // namespace gapfront::cavity
