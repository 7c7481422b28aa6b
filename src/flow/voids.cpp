// Voids by the front's speed.
#include <cmath>
#include <limits>

#include "gapfront/flow.hpp"

namespace gapfront::flow {

std::vector<double> capillary_numbers(const Sheet& sheet, const Filling& filling, const FlowOptions& o) {
  if (!(o.surface_tension > 0)) return {};
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  // Gradient of the arrival in each triangle (linear in it), mean over those around a node; the front's speed is one
  // over its size.
  std::vector<Vec3> rise(sheet.size(), Vec3::Zero());
  std::vector<double> around(sheet.size(), 0);
  for (const auto& t : sheet.mesh.triangles) {
    const Vec3 &a = sheet.mesh.points[t[0]], u = sheet.mesh.points[t[1]] - a, v = sheet.mesh.points[t[2]] - a;
    const double ta = passing_time(filling, t[0]), tu = passing_time(filling, t[1]) - ta,
                 tv = passing_time(filling, t[2]) - ta;
    if (!std::isfinite(ta) || !std::isfinite(tu) || !std::isfinite(tv)) continue;
    const Vec3 n = u.cross(v);
    const double twice = n.norm();
    if (!(twice > 0)) continue;
    const Vec3 slope = (tu * v.cross(n) + tv * n.cross(u)) / (twice * twice);
    for (const int k : t) rise[k] += twice * slope, around[k] += twice;
  }
  const double wetting = o.surface_tension * std::cos(o.contact_angle);
  std::vector<double> out(sheet.size(), none);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double time = passing_time(filling, i), slow = around[i] > 0 ? rise[i].norm() / around[i] : 0;
    if (!std::isfinite(time) || !(slow > 0)) continue;
    // 1 Pa·s·mm/s over 1 N/mm is 1e-6: Pa is N/m², and a square metre is 1e6 mm².
    out[i] = 1e-6 * o.viscosity * (o.ageing.on() ? o.ageing.factor(o.ageing.start + time) : 1) / slow / wetting;
  }
  return out;
}

}  // namespace gapfront::flow
