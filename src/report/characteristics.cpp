#include "gapfront/characteristics.hpp"

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <numbers>

#include "gapfront/text.hpp"
#include "report/csv.hpp"

namespace gapfront::report {
namespace {

constexpr double kNoNumber = std::numeric_limits<double>::quiet_NaN();
constexpr const char* kRule = "ISO 14253-1";

nlohmann::ordered_json rounded(double v, double per_unit = 1e6) {
  return std::isfinite(v) ? nlohmann::ordered_json(std::round(v * per_unit) / per_unit)
                          : nlohmann::ordered_json(nullptr);
}

}  // namespace

std::vector<Characteristic> characteristics(const Inspection& r) {
  std::vector<Characteristic> out;
  if (r.doubt) return out;
  const Verdict& v = r.verdict;
  const Vec3 nowhere = Vec3::Constant(kNoNumber);
  const auto add_whole = [&](const std::string& id, const std::string& what, Conformity decision, double area) {
    out.push_back({id, what, nowhere, kNoNumber, kNoNumber, kNoNumber, kNoNumber, kNoNumber, decision, area});
  };
  const auto add_place = [&](const char* id, const char* what, const DecidingPlace& p, double low, double high) {
    const double disc = std::numbers::pi / 4 * v.rule.across * v.rule.across;
    if (p.found) out.push_back({id, what, p.at, p.nominal, low, high, p.mean, p.U, p.decision, disc});
  };
  double face = 0;
  for (const Sheet::Lost& l : r.sheet.lost) face += l.area;
  for (std::size_t i = 0; i < r.sheet.size(); ++i)
    if (!is_masked(r.sheet, i)) face += r.sheet.area[i];
  add_whole("gap", "gap, everywhere inside the seal line", v.overall, face);
  for (const ZoneVerdict& z : v.zones)
    add_whole("gap." + (z.name.empty() ? "no-zone" : "zone." + z.name),
              z.name.empty() ? "gap, everywhere outside the zones" : "gap, everywhere in the zone " + z.name, z.overall,
              z.area);
  add_place("gap.lower-limit", "mean gap about the place nearest to its lower limit, or farthest below", v.at_low,
            v.at_low.limit, kNoNumber);
  add_place("gap.upper-limit", "mean gap about the place nearest to its upper limit, or farthest above", v.at_high,
            kNoNumber, v.at_high.limit);
  if (r.gap.unmeasured_area > 0) {
    add_whole("not-measured", "what is not measured inside the seal line, in all", Conformity::not_measured,
              r.gap.unmeasured_area);
    // Too little to decide: the total is enough.
    for (std::size_t i = 0; !v.covered && i < v.unseen.size(); ++i) {
      add_whole("not-measured." + std::to_string(i + 1), "place that is not measured, by its middle",
                Conformity::not_measured, v.unseen[i].area);
      out.back().at = v.unseen[i].centre;
    }
  }
  out.push_back({"deviation.mean", "gap minus nominal, mean over the area", nowhere, 0, kNoNumber, kNoNumber, v.mean,
                 v.mean_budget.U, Conformity::not_judged, face - r.gap.unmeasured_area});
  // Where a rigid move of the upper half explains part of the deviation, regions are those of what it leaves.
  const std::string what = v.rigid_significant
                               ? "gap minus nominal, less the best rigid move of the upper half, mean over the region "
                               : "gap minus nominal, mean over the region ";
  for (const DeviationRegion& region : v.regions)
    out.push_back({"deviation." + region.name, what + region.name, region.centre, 0, kNoNumber, kNoNumber, region.mean,
                   region.mean_U, Conformity::not_judged, region.area});
  return out;
}

std::string characteristics_csv(const Inspection& r) {
  std::string out =
      "id,characteristic,x_mm,y_mm,z_mm,nominal_mm,lower_limit_mm,upper_limit_mm,measured_mm,U_mm,k,decision,rule,area_"
      "mm2,limits_are_a_guess\r\n";
  for (const Characteristic& c : characteristics(r)) {
    const std::string cells[] = {text_cell(c.id),
                                 text_cell(c.what),
                                 number_cell(c.at.x(), 2),
                                 number_cell(c.at.y(), 2),
                                 number_cell(c.at.z(), 2),
                                 number_cell(c.nominal, 4),
                                 number_cell(c.low, 4),
                                 number_cell(c.high, 4),
                                 number_cell(c.measured, 4),
                                 number_cell(c.U, 4),
                                 number_cell(r.gap.coverage, 2),
                                 text_cell(to_string(c.decision)),
                                 text_cell(kRule),
                                 number_cell(c.area, 0),
                                 job::provisional(r.job) ? "yes" : "no"};
    for (std::size_t k = 0; k < std::size(cells); ++k) out += (k ? "," : "") + cells[k];
    out += "\r\n";
  }
  return out;
}

std::string characteristics_json(const Inspection& r) {
  nlohmann::ordered_json list = nlohmann::ordered_json::array();
  for (const Characteristic& c : characteristics(r))
    list.push_back({{"id", c.id},
                    {"characteristic", c.what},
                    {"at_mm", {rounded(c.at.x()), rounded(c.at.y()), rounded(c.at.z())}},
                    {"nominal_mm", rounded(c.nominal)},
                    {"lower_limit_mm", rounded(c.low)},
                    {"upper_limit_mm", rounded(c.high)},
                    {"measured_mm", rounded(c.measured)},
                    {"U_mm", rounded(c.U)},
                    {"decision", to_string(c.decision)},
                    {"area_mm2", rounded(c.area, 100)}});
  const nlohmann::ordered_json all{{"format", "gapfront characteristics"},
                                   {"format_version", 2},
                                   {"program_version", r.version},
                                   {"name", r.job.name},
                                   {"tool", r.job.tool},
                                   {"date", r.job.date},
                                   {"job_sha256", r.job_sha256},
                                   {"lower_sha256", r.lower_sha256},
                                   {"upper_sha256", r.upper_sha256},
                                   {"rule", kRule},
                                   {"coverage_factor", r.gap.coverage},
                                   {"limits_are_a_guess", job::provisional(r.job)},
                                   {"verdict", say(r.verdict.headline, {r.job.units})},
                                   {"characteristics", list}};
  return all.dump(1) + "\n";
}

}  // namespace gapfront::report
