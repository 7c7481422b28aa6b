// Where the front leads, where that comes from, and how likely it is.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;
constexpr std::size_t max_rows = 8;  // what follows is small beside these; all are in result.json

// 32 runs tell a probability to about 9 % (one standard error of a half): whole tens of percent would hide that less,
// but nought and all are worth seeing.
std::string chance(double p) { return std::isfinite(p) && p >= 0 ? fixed(100 * p, 0) + "\u00a0%" : "–"; }

}  // namespace

std::string lead_regions(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const double full = r.nominal_filling.fill_time;
  std::string out;
  if (!r.lead.regions.empty()) {
    std::vector<std::vector<std::string>> rows{{"where the front leads", "area", "greatest lead", "in length of front",
                                                "of the fill time", "gained around", "in gap region", "probability"}};
    for (std::size_t i = 0; i < std::min(max_rows, r.lead.regions.size()); ++i) {
      const auto& g = r.lead.regions[i];
      const bool traced = g.source >= 0 && g.source < static_cast<int>(r.sheet.size());
      rows.push_back({place(g.centre, u), with_unit(g.area, D::area, u), with_time(g.peak_s, full),
                      by_tape(g.peak_mm, u), fixed(g.peak_percent, 0) + "\u00a0%",
                      traced ? place(r.sheet.mesh.points[g.source], u) : "–", g.fed_by.empty() ? "none" : own(g.fed_by),
                      chance(g.probability)});
    }
    out += table(rows);
  }
  const Ensemble& e = r.ensemble;
  const Chance& air = r.outcome.now.air;  // the figure of the outcome, not a second one
  if (e.runs > 0)
    out += "<p>" +
           escape("Of " + std::to_string(std::max(e.runs, air.draws)) +
                  " fillings with gap and glass drawn at random within their uncertainty, " +
                  chance(air.draws > 0 ? air.p : e.pocket) + " trap air. " +
                  (r.job.ensemble.min_dry > 0
                       ? "Air counts as trapped where it leaves more than " + min_dry_words(r) + " dry. "
                       : std::string()) +
                  "In nineteen of twenty the filling takes " + with_time(e.fill_time_low, full) + " to " +
                  with_time(e.fill_time_high, full) + ", and the greatest lead lies between " +
                  with_time(e.max_low, full) + " and " + with_time(e.max_high, full) + ".") +
           "</p>\n";
  return out;
}

}  // namespace gapfront::report
