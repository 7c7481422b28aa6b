#include "correct/port_places.hpp"

#include <algorithm>
#include <limits>

#include "core/neighbours.hpp"
#include "core/sheet_parts.hpp"

namespace gapfront::correct {

PortPlaces::PortPlaces(const Sheet& sheet) : sheet_(sheet) {
  for (const auto& [a, b] : rim_edges(sheet.mesh)) rim_.push_back({sheet.mesh.points[a], sheet.mesh.points[b]});
}

bool PortPlaces::holds(const Vec3& p, double radius) const {
  return std::none_of(rim_.begin(), rim_.end(), [&](const auto& side) { return distance_to_path(p, side) < radius; });
}

Vec3 PortPlaces::nearest(const Vec3& p, double radius) const {
  const auto& nodes = sheet_.mesh.points;
  double best = std::numeric_limits<double>::infinity();
  Vec3 out = nodes[static_cast<std::size_t>(nearest_node(sheet_, p))];
  for (const Vec3& node : nodes)
    if (const double d = (node - p).norm(); d < best && holds(node, radius)) best = d, out = node;
  return out;
}

}  // namespace gapfront::correct
