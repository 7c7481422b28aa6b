// corrections.csv: one row per correction, and one per station for shims. RFC 4180.
#include <cmath>

#include "gapfront/report.hpp"
#include "report/csv.hpp"
#include "report/step_effect.hpp"
#include "units/inch.hpp"

namespace gapfront::report {
std::string corrections_csv(const Inspection& r) {
  std::string out =
      "rank,name,order,kind,face,region,station,x_mm,y_mm,z_mm,change_mm,change_in,new_stack_mm,area_mm2,mean_mm,"
      "peak_mm,peak_in,volume_mm3,mass_g,effort_h,out_of_tolerance_before_mm2,out_of_tolerance_after_mm2,"
      "lead_before_s,lead_after_s,dry_before_mm2,dry_after_mm2,expected_dry_before_mm2,"
      "expected_dry_after_mm2,drawn_fillings,mouth_mm,instruction\r\n";
  const auto& plan = r.plan;
  for (std::size_t i = 0; i < plan.candidates.size(); ++i) {
    const Correction& c = plan.candidates[i];
    const Change does = change_of(plan, i);
    const auto &before = does.before, &after = does.after;
    std::string order;
    for (std::size_t k = 0; k < plan.chosen.size(); ++k)
      if (plan.chosen[k] == static_cast<int>(i)) order = std::to_string(k + 1);
    auto row = [&](const std::string& station, const Vec3& at, double change, const std::string& stack) {
      const std::string cells[] = {std::to_string(i + 1),
                                   text_cell(c.name),
                                   order,
                                   text_cell(to_string(c.kind)),
                                   text_cell(c.face),
                                   text_cell(c.region),
                                   text_cell(station),
                                   number_cell(at.x(), 2),
                                   number_cell(at.y(), 2),
                                   number_cell(at.z(), 2),
                                   number_cell(change, 3),
                                   number_cell(change / inch, 4),
                                   stack,
                                   number_cell(c.area, 0),
                                   number_cell(c.mean, 3),
                                   number_cell(c.peak, 3),
                                   number_cell(c.peak / inch, 4),
                                   number_cell(c.volume, 0),
                                   number_cell(c.mass, 1),
                                   number_cell(c.effort, 2),
                                   number_cell(before.out_of_tolerance_area, 0),
                                   number_cell(after.out_of_tolerance_area, 0),
                                   number_cell(before.max_lead_s, 2),
                                   number_cell(after.max_lead_s, 2),
                                   number_cell(before.dry_area, 0),
                                   number_cell(after.dry_area, 0),
                                   number_cell(before.expected_dry_area, 0),
                                   number_cell(after.expected_dry_area, 0),
                                   after.drawn.empty() ? "" : std::to_string(after.drawn.size()),
                                   c.port_radius > 0 ? number_cell(2 * c.port_radius, 1) : "",
                                   text_cell(say(c.instruction, {r.job.units}))};
      for (std::size_t k = 0; k < std::size(cells); ++k) out += (k ? "," : "") + cells[k];
      out += "\r\n";
    };
    const bool setting = c.face == "settings" || !c.stack.empty();  // of the whole part: it has no place
    if (c.shims.empty()) row("", setting ? Vec3::Constant(std::nan("")) : c.centre, std::nan(""), "");
    for (const auto& s : c.shims) {
      std::string stack;
      for (double t : s.stack) stack += (stack.empty() ? "" : " + ") + number_cell(t, 3);
      if (s.relief > 0) stack = number_cell(-s.relief, 3) + " off the flange";
      row(s.station, s.at, s.change, text_cell(stack));
    }
  }
  return out;
}

}  // namespace gapfront::report
