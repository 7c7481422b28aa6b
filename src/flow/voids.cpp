// Voids by the front's speed.
#include <cmath>
#include <limits>

#include "flow/steepness.hpp"
#include "gapfront/flow.hpp"

namespace gapfront::flow {

std::vector<double> capillary_numbers(const Sheet& sheet, const Filling& filling, const FlowOptions& o) {
  if (!(o.surface_tension > 0)) return {};
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> times;
  for (std::size_t i = 0; i < sheet.size(); ++i) times.push_back(passing_time(filling, i));
  const std::vector<double> slow = steepness(sheet.mesh, times);  // s/mm: one over the front's speed
  const double wetting = o.surface_tension * std::cos(o.contact_angle);
  std::vector<double> out(sheet.size(), none);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!std::isfinite(times[i]) || !(slow[i] > 0)) continue;
    // 1 Pa·s·mm/s over 1 N/mm is 1e-6: Pa is N/m², and a square metre is 1e6 mm².
    out[i] = 1e-6 * o.viscosity * (o.ageing.on() ? o.ageing.factor(o.ageing.start + times[i]) : 1) / slow[i] / wetting;
  }
  return out;
}

}  // namespace gapfront::flow
