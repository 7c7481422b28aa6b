#include "pipeline/notes.hpp"

#include <algorithm>

namespace gapfront::pipeline {

void append(std::vector<std::string>& to, const std::vector<std::string>& from) {
  for (const auto& line : from)
    if (std::find(to.begin(), to.end(), line) == to.end()) to.push_back(line);
}

std::string in_one_line(const std::vector<std::string>& clauses) {
  std::string out;
  for (const auto& c : clauses) out += (out.empty() ? "" : "; ") + c;
  return out;
}

std::vector<std::string> crossing_warning(const Measured& r) {
  double area = 0, minimum = 0;
  std::size_t where = 0;
  for (std::size_t i = 0; i < r.sheet.size(); ++i) {
    const NodeGap& g = r.gap.nodes[i];
    if (!g.measured || g.gap + g.U >= 0) continue;
    area += r.sheet.area[i];
    if (g.gap < minimum) minimum = g.gap, where = i;
  }
  if (area == 0) return {};
  const UnitSystem u = r.job.units;
  const Vec3& p = r.sheet.mesh.points[where];
  return {"the halves run through each other over " + format_area(area, u) + ", most by " + format_length(-minimum, u) +
          " at (" + format_length(p.x(), u) + ", " + format_length(p.y(), u) + ", " + format_length(p.z(), u) +
          "): the gap is negative there; the registration or the stand-off is wrong, or a half is not closed"};
}

std::string shift_warning(const SpotShift& shift, UnitSystem units) {
  return "the spot readings say that the clamped mold sits otherwise than the map: " +
         format_length(shift.offset, units) +
         (shift.removed ? " and its tilt were taken out of the gap"
                        : " too much gap in the map at their middle; nothing was taken out "
                          "(cavity.remove_spot_shift = true does)");
}

std::vector<std::string> reinforcement_warnings(const Predicted& r) {
  std::vector<std::string> out;
  const UnitSystem u = r.job.units;
  const auto area = [&](double mm2, const std::string& text) {
    if (mm2 >= r.job.tolerance.min_region_area) out.push_back(text + " over " + format_area(mm2, u));
  };
  area(r.laminate.over_packed_area, "the glass is over-packed, it pushes back harder than the clamping,");
  area(r.laminate.under_filled_area, "the glass does not fill the gap, resin runs ahead in the open channel,");
  area(r.laminate.weight_out_area, "the glass by weight is outside its window");
  const auto unsettled = [](const Breathing& b) { return b.computed && !b.converged; };
  if (unsettled(r.breathing) || unsettled(r.nominal_breathing))
    out.push_back("the shape of the upper half under load did not settle; its stiffness may be too small to hold it");
  return out;
}

}  // namespace gapfront::pipeline
