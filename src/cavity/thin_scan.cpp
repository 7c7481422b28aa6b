#include "cavity/thin_scan.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <utility>

#include "cavity/sheet_mesh.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

using Square = std::pair<int, int>;

std::map<Square, int> points_in_squares(const Surface& lower, const SealLine& seal, double side) {
  std::map<Square, int> out;
  for (const Vec3& p : lower.points())
    if (seal.inside(p)) ++out[{int(std::floor(p.x() / side)), int(std::floor(p.y() / side))}];
  return out;
}

double area_inside(const SheetOptions& o) {
  const auto flat = [](std::vector<Vec3> loop) {
    for (Vec3& p : loop) p.z() = 0;
    return loop_area(loop).norm();
  };
  double area = flat(o.seal);
  for (const auto& island : o.islands) area -= flat(island);
  return area;
}

}  // namespace

void refuse_thin_scan(const Surface& lower, const SheetOptions& o, const SealLine& seal) {
  if (!seal.closed()) return;
  // The reach within which six points are asked for (`sample_face`); six at 0.7 of it, and a seventh for chance.
  const double cell = std::max(lower.spacing(), 0.75 * o.min_edge);
  const double needed = 0.65 * 1.5 * std::max(2 * lower.spacing(), 0.8 * cell);
  // Sixteen points a square at the density needed, so that the count tells.
  const double side = std::max(2 * o.edge, 4 * needed);
  std::vector<double> found;
  std::vector<Vec3> places;
  for (const auto& [square, count] : points_in_squares(lower, seal, side)) {
    const double spacing = side / std::sqrt(double(count));
    // A square at the seal line is cut: its few points lie in a part of it.
    const Vec3 middle(side * (square.first + 0.5), side * (square.second + 0.5), 0);
    if (count < 2 || spacing <= needed || seal.signed_distance(middle) > -0.5 * side) continue;
    found.push_back(spacing), places.push_back(middle);
  }
  // A quarter of the area: a few thin squares are not why half of the face is missing. A line that encloses nothing has
  // no thin place at all.
  if (found.empty() || double(found.size()) * side * side < 0.25 * area_inside(o)) return;
  const Vec3 place = middle_one(places);
  const double usual = median(std::move(found));
  char line[360];
  std::snprintf(line, sizeof line,
                "sheet: the lower scan is uneven: about x %.0f, y %.0f mm it has one point per %.2g mm, where its "
                "densest parts (%.2g mm) ask for one per %.2g mm or closer; scan that place again, or thin the dense "
                "parts to one point per %.2g mm",
                place.x(), place.y(), usual, lower.spacing(), needed, usual);
  throw Error(Fault::measurement, line);
}

void require_seal(double covered, const Surface& lower, const SheetOptions& o, const SealLine& seal) {
  const double inside = area_inside(o);
  const double fraction = inside > 0 ? covered / inside : 1;
  // Under half: the line and the face do not belong together; a scan with holes still covers most of its face.
  if (fraction >= 0.5) return;
  refuse_thin_scan(lower, o, seal);
  char line[256];
  std::snprintf(line, sizeof line,
                "sheet: the lower scan covers only %.0f %% of the area inside the seal line; check cavity.seal against "
                "the tool frame and its units, or scan the face out to the flange",
                100 * fraction);
  throw Error(Fault::measurement, line);
}

}  // namespace gapfront::cavity
