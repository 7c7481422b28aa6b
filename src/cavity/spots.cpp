// Readings of the thickness in the clamped mold beside the map.
#include "cavity/spots.hpp"
#include <algorithm>
#include <cmath>
#include <limits>
#include "gapfront/error.hpp"

namespace gapfront::cavity {

namespace {

/// Longest edge that meets each node, mm.
std::vector<double> longest_edges(const Mesh& mesh) {
  std::vector<double> longest(mesh.points.size(), 0);
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k) {
      const auto a = std::size_t(t[std::size_t(k)]), b = std::size_t(t[std::size_t((k + 1) % 3)]);
      const double edge = (mesh.points[a] - mesh.points[b]).norm();
      longest[a] = std::max(longest[a], edge);
      longest[b] = std::max(longest[b], edge);
    }
  return longest;
}

/// A clay or wax is placed by hand between the faces: its place may be given on either, so the nearer of the node
/// and the mid-point of its cavity counts.
double distance_to_node(const Sheet& sheet, const NodeGap& node, std::size_t i, const Vec3& at) {
  return std::min((sheet.mesh.points[i] - at).norm(), (node.mid - at).norm());
}

}  // namespace

std::vector<std::optional<std::size_t>> nodes_of_spots(const Sheet& sheet, const GapMap& map,
                                                       const std::vector<SpotReading>& readings) {
  if (map.nodes.size() != sheet.size())
    throw Error(Fault::input, "spots: the gap map belongs to another sheet; measure the gap on this one");
  const std::vector<double> edges = longest_edges(sheet.mesh);
  std::vector<std::optional<std::size_t>> out;
  for (const SpotReading& r : readings) {
    if (!r.at.allFinite() || !std::isfinite(r.thickness) || !(r.U >= 0))
      throw Error(Fault::input,
                  "spot " + r.name + ": place, thickness or U is not a number, or U is negative; correct it");
    double best = std::numeric_limits<double>::infinity();
    std::size_t node = 0;
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      if (!map.nodes[i].measured) continue;
      const double d = distance_to_node(sheet, map.nodes[i], i, r.at);
      if (d < best) best = d, node = i;
    }
    const bool found = std::isfinite(best) && best <= 2 * edges[node];
    out.push_back(found ? std::optional(node) : std::nullopt);
  }
  return out;
}

std::vector<SpotComparison> compare_spots(const Sheet& sheet, const GapMap& map,
                                          const std::vector<SpotReading>& readings) {
  const auto nodes = nodes_of_spots(sheet, map, readings);
  std::vector<SpotComparison> out;
  for (std::size_t k = 0; k < readings.size(); ++k) {
    const SpotReading& r = readings[k];
    SpotComparison c{r.name, 0, 0, r.thickness, r.U, 0, false};
    if (nodes[k]) {
      c.found = true;
      c.map = map.nodes[*nodes[k]].gap;
      c.map_U = map.nodes[*nodes[k]].U;
      const double both = std::hypot(c.map_U, c.reading_U), apart = std::abs(c.map - c.reading);
      // Two exact values that differ disagree without limit; two that agree, agree.
      c.En = both > 0 ? apart / both : apart > 0 ? std::numeric_limits<double>::infinity() : 0.0;
    }
    out.push_back(c);
  }
  return out;
}

}  // namespace gapfront::cavity
