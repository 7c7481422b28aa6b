// Where the front leads, where that comes from, and how likely it is.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;
constexpr std::size_t kMaxRows = 8;  // what follows is small beside these; all are in result.json

// 64 runs tell a probability to about 6 % (one standard error of a half): whole tens of percent would hide that less,
// but nought and all are worth seeing.
std::string chance(double p) { return std::isfinite(p) && p >= 0 ? fixed(100 * p, 0) + "\u00a0%" : "–"; }

}  // namespace

std::string lead_regions(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const double full = r.nominal_filling.fill_time;
  std::string out;
  if (!r.lead.regions.empty()) {
    std::vector<std::vector<std::string>> rows{{told(v, "front.where-front-leads"), told(v, "page.area"),
                                                told(v, "corrections.greatest-lead"), told(v, "work.length-front"),
                                                told(v, "work.fill-time"), told(v, "work.gained-around"),
                                                told(v, "work.gap-region"), told(v, "work.probability")}};
    for (std::size_t i = 0; i < std::min(kMaxRows, r.lead.regions.size()); ++i) {
      const auto& g = r.lead.regions[i];
      const bool traced = g.source >= 0 && g.source < static_cast<int>(r.sheet.size());
      rows.push_back({go(g.centre, v), with_unit(g.area, D::area, v), with_time(g.peak_s, full, v),
                      by_tape(g.peak_mm, v), fixed(g.peak_percent, 0) + "\u00a0%",
                      traced ? go(r.sheet.mesh.points[g.source], v) : "–",
                      g.fed_by.empty() ? told(v, "page.none") : own(g.fed_by), chance(g.probability)});
    }
    out += table(rows);
  }
  const Ensemble& e = r.ensemble;
  const Chance& air = r.outcome.now.air;  // the figure of the outcome, not a second one
  if (e.runs == 0) return out;
  Text said{Message("work.fillings-gap-glass-drawn", {static_cast<long>(std::max(e.runs, air.draws)),
                                                      arg::name(chance(air.draws > 0 ? air.p : e.pocket))})};
  if (r.job.ensemble.min_dry > 0)
    said.push_back(Message("outcome.air-counts-trapped-where", {arg::given_area(r.job.ensemble.min_dry)}));
  const auto time = [&](double s) { return arg::name(with_time(s, full, v)); };
  said.push_back(Message("work.nineteen-twenty-filling-takes",
                         {time(e.fill_time_low), time(e.fill_time_high), time(e.max_low), time(e.max_high)}));
  return out + para(told(v, said));
}

}  // namespace gapfront::report
