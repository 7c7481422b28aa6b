// What stands on the halves and is no moulding face.
#include <algorithm>

#include "gapfront/cavity.hpp"

namespace gapfront::cavity {
namespace {

constexpr double kBallReach = 1.5;   // diameters about a ball's centre; see `masks_of`
constexpr double kPointRadius = 15;  // mm, about a plain point
constexpr double kSamePlace = 1;     // mm; far more than any residual, far less than a mask

}  // namespace

std::vector<Mask> masks_of(const Alignment& alignment) {
  std::vector<Mask> out;
  for (const FoundMark& m : alignment.marks) {
    const double radius = m.clear.value_or(m.ball ? kBallReach * *m.ball : kPointRadius);
    const bool known = std::any_of(out.begin(), out.end(), [&](const Mask& o) {
      return o.radius >= radius && (o.centre - m.place).norm() < kSamePlace;
    });
    if (radius > 0 && !known) out.push_back({m.name, m.place, radius});
  }
  return out;
}

void mask_nodes(Sheet& sheet, const std::vector<Mask>& masks) {
  std::vector<char> inside(sheet.size(), 0);
  bool any = false;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    for (const Mask& m : masks)
      if (!inside[i] && (sheet.mesh.points[i] - m.centre).norm() < m.radius) {
        inside[i] = 1, any = true;
        sheet.masked_area += sheet.area[i];
      }
  if (any) sheet.masked = std::move(inside);
}

std::vector<Mask> masks_on_sheet(const Sheet& sheet, const std::vector<Mask>& masks) {
  std::vector<Mask> out;
  for (const Mask& m : masks) {
    // Where a mask has cut, nodes lie on its edge; a quarter of a usual edge is what re-meshing leaves.
    const double reach = m.radius + 0.25 * sheet.edge_p50;
    if (std::any_of(sheet.mesh.points.begin(), sheet.mesh.points.end(),
                    [&](const Vec3& p) { return (p - m.centre).norm() < reach; }))
      out.push_back(m);
  }
  return out;
}

}  // namespace gapfront::cavity
