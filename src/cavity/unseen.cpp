// What a gap map does not speak for: by area, in places, and whose scan leaves it out.
#include <algorithm>
#include "cavity/coverage.hpp"
#include "core/neighbours.hpp"

namespace gapfront {
namespace {

/// The upper face over each node: at the ball's foot where the gap was measured, else a nominal gap away.
std::vector<Vec3> upper_feet(const Sheet& sheet, const GapMap& map, double nominal) {
  std::vector<Vec3> out(sheet.size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    const NodeGap& g = map.nodes[i];
    out[i] =
        g.measured ? Vec3(g.mid + 0.5 * g.gap * g.direction) : Vec3(sheet.mesh.points[i] + nominal * sheet.normals[i]);
  }
  return out;
}

}  // namespace

namespace cavity {

void take_coverage(const Sheet& sheet, const Holes& lower, const Surface& upper, double nominal, GapMap& map) {
  const Mesh& mesh = sheet.mesh;
  const std::size_t n = sheet.size();
  std::vector<Vec3> towards(n);
  for (std::size_t i = 0; i < n; ++i) towards[i] = map.nodes[i].measured ? map.nodes[i].direction : sheet.normals[i];
  // The gap itself changes between nodes, by steps as well; half the nominal one holds what is worth measuring.
  const Holes up = find_holes(mesh, upper_feet(sheet, map, nominal), towards, upper, 0.5 * nominal);
  for (std::size_t i = 0; i < n; ++i)
    if (lower.node[i] || up.node[i]) map.nodes[i].measured = false;
  const auto either = bare_area(mesh, lower, up), low = bare_area(mesh, lower, lower), high = bare_area(mesh, up, up);
  const auto around = neighbours(mesh);
  map.judged.assign(n, 0), map.unseen.assign(n, 0), map.unseen_lower = low, map.unseen_upper = high;
  for (std::size_t i = 0; i < n; ++i) {
    const double covered = std::max(0.0, sheet.area[i] - either[i]);
    if (map.nodes[i].measured) {
      map.judged[i] += covered, map.unseen[i] = sheet.area[i] - covered;
      continue;
    }
    // A node in a hole: what of its cell lies outside of the hole is spoken for by the measured nodes beside it.
    std::size_t beside = 0;
    for (int j : around[i]) beside += map.nodes[j].measured;
    const bool shared = (lower.node[i] || up.node[i]) && beside > 0;
    map.unseen[i] = shared ? sheet.area[i] - covered : sheet.area[i];
    for (int j : around[i])
      if (shared && map.nodes[j].measured) map.judged[j] += covered / double(beside);
  }
}

}  // namespace cavity

std::vector<UnseenPlace> cavity::unseen_places(const Sheet& sheet, const GapMap& map, const std::vector<int>& nodes) {
  const auto area_of = [&](int i) { return map.unseen_area(sheet, std::size_t(i)); };
  std::vector<char> open(sheet.size(), 0);
  for (int i : nodes) open[i] = area_of(i) > 0;
  const auto around = neighbours(sheet.mesh);
  std::vector<UnseenPlace> out;
  for (int seed : nodes) {
    if (!open[seed]) continue;
    UnseenPlace place;
    std::vector<int> stack{seed};
    open[seed] = 0;
    double low = 0, high = 0;
    while (!stack.empty()) {
      const int i = stack.back();
      stack.pop_back();
      const double a = area_of(i);
      place.nodes.push_back(i), place.area += a, place.centre += a * sheet.mesh.points[i];
      if (!map.unseen_lower.empty()) low += map.unseen_lower[i], high += map.unseen_upper[i];
      for (int j : around[i])
        if (open[j]) open[j] = 0, stack.push_back(j);
    }
    place.centre /= place.area;
    // The middle of a strip that turns, or of a ring, lies beside it.
    const auto& points = sheet.mesh.points;
    const int near = *std::min_element(place.nodes.begin(), place.nodes.end(), [&](int i, int j) {
      return (points[i] - place.centre).squaredNorm() < (points[j] - place.centre).squaredNorm();
    });
    if ((points[near] - place.centre).squaredNorm() > 4 * sheet.area[near]) place.centre = points[near];
    for (const int i : place.nodes) place.reach = std::max(place.reach, (points[i] - place.centre).norm());
    std::sort(place.nodes.begin(), place.nodes.end());
    // A third of the place: less comes from the edges of the other scan's hole.
    const bool l = low > place.area / 3, h = high > place.area / 3;
    place.missing = l && h ? Missing::both : l ? Missing::lower : h ? Missing::upper : Missing::neither;
    out.push_back(std::move(place));
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.area > b.area; });
  return out;
}

const char* to_string(Missing m) {
  switch (m) {
    case Missing::lower:
      return "lower";
    case Missing::upper:
      return "upper";
    case Missing::both:
      return "both";
    case Missing::neither:
      break;
  }
  return "neither";
}

Message cavity::why_missing(Missing m) {
  switch (m) {
    case Missing::lower:
      return Message("cover.lower-scan-has-hole");
    case Missing::upper:
      return Message("cover.upper-scan-has-hole");
    case Missing::both:
      return Message("cover.both-scans-have-hole");
    case Missing::neither:
      break;
  }
  return Message("cover.both-scans-cover-but");
}

}  // namespace gapfront
