#include "correct/nominal_face.hpp"

#include <cmath>
#include <limits>

namespace gapfront::correct {
namespace {

// So many places tell which half is off; more would only take longer.
constexpr std::size_t kPlaces = 60;

/// Where the line p + t·d meets the mesh nearest to t = 0, within `reach`; NaN where it does not (Möller & Trumbore
/// 1997).
double along(const Mesh& mesh, const Vec3& p, const Vec3& d, double reach) {
  double best = std::numeric_limits<double>::quiet_NaN();
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.points[t[0]], e1 = mesh.points[t[1]] - a, e2 = mesh.points[t[2]] - a;
    const Vec3 q = d.cross(e2);
    const double det = e1.dot(q);
    if (det == 0) continue;
    const Vec3 s = p - a;
    const double u = s.dot(q) / det;
    if (u < 0 || u > 1) continue;
    const Vec3 r = s.cross(e1);
    const double v = d.dot(r) / det, x = e2.dot(r) / det;
    if (v < 0 || u + v > 1 || std::abs(x) > reach) continue;
    if (!(std::abs(x) > std::abs(best))) best = x;
  }
  return best;
}

}  // namespace

std::optional<FaceErrors> face_errors(const CorrectInput& in, const std::vector<int>& nodes) {
  if (!in.nominal_lower || !in.nominal_upper) return std::nullopt;
  FaceErrors sum;
  double area = 0;
  const std::size_t step = std::max<std::size_t>(1, nodes.size() / kPlaces);
  for (std::size_t k = 0; k < nodes.size(); k += step) {
    const NodeGap& n = in.gap.nodes[nodes[k]];
    if (!n.measured) continue;
    const Vec3 low = n.mid - 0.5 * n.gap * n.direction, high = n.mid + 0.5 * n.gap * n.direction;
    const double reach = std::abs(n.gap) + in.verdict.nominal[nodes[k]];
    // The line from the measured face to the nominal one: behind it, the face stands proud.
    const double lower = -along(*in.nominal_lower, low, n.direction, reach);
    const double upper = along(*in.nominal_upper, high, n.direction, reach);
    if (!std::isfinite(lower) || !std::isfinite(upper)) continue;
    const double a = in.sheet.area[nodes[k]];
    sum.lower += a * lower, sum.upper += a * upper, area += a;
  }
  if (area == 0) return std::nullopt;
  return FaceErrors{sum.lower / area, sum.upper / area};
}

}  // namespace gapfront::correct
