// Charts of bars. Their names and numbers are text in the picture, which is read out as it stands.
#include <algorithm>
#include <cmath>

#include "core/letters.hpp"
#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "units/inch.hpp"

namespace gapfront::report {
namespace {

struct Bar {
  std::string name;    ///< HTML; empty: it belongs to the bar above
  std::string text;    ///< its number
  double value = 0;    ///< its length, on the chart's own scale
  double whisker = 0;  ///< ± about its end
  double tick = -1;    ///< a mark across it; negative: none
  const char* style = "col";
};

/// Lengths are shares of `full`; 0: of the longest. The title is HTML.
std::string bar_chart(const std::string& title, const std::vector<Bar>& bars, double full = 0) {
  if (full <= 0)
    for (const auto& b : bars) full = std::max({full, b.value + b.whisker, b.tick});
  constexpr double left = 4, width = 300;  // the number stands behind the bar and needs about 120
  std::string out;
  double y = 4;
  for (const auto& b : bars) {
    const auto at = [&](double v) { return left + (full > 0 ? width * std::clamp(v / full, 0.0, 1.0) : 0); };
    if (!b.name.empty())
      out += "<text x=\"" + fixed(left) + "\" y=\"" + fixed(y + 12) + "\">" + b.name + "</text>", y += 18;
    out += "<rect class=\"" + std::string(b.style) + "\" x=\"" + fixed(left) + "\" y=\"" + fixed(y) + "\" width=\"" +
           fixed(at(b.value) - left) + "\" height=\"14\"/>";
    if (b.whisker > 0)
      out += "<path class=\"ax\" d=\"M" + fixed(at(b.value - b.whisker)) + " " + fixed(y + 7) + "H" +
             fixed(at(b.value + b.whisker)) + "m0 -4v8M" + fixed(at(b.value - b.whisker)) + " " + fixed(y + 3) +
             "v8\"/>";
    if (b.tick >= 0) out += "<path class=\"lim\" d=\"M" + fixed(at(b.tick)) + " " + fixed(y - 2) + "v18\"/>";
    // Behind its own bar; where a mark stands behind that, inside the bar if it is long enough.
    const double end = at(b.value + b.whisker), room = 8 * static_cast<double>(letters_in(b.text));
    const bool inside = b.tick >= 0 && end - left > room + 7;
    out += "<text class=\"" + std::string(inside ? "inside" : "over") + "\" x=\"" + fixed(inside ? end - 7 : end + 7) +
           "\" y=\"" + fixed(y + 11) + "\"" + (inside ? " text-anchor=\"end\"" : "") + ">" + escape(b.text) + "</text>";
    y += 20;
  }
  return "<figure class=\"chart\"><svg viewBox=\"0 0 460 " + fixed(y + 4, 0) + "\" role=\"group\" aria-label=\"" +
         title + "\">" + out + "</svg><figcaption>" + title + "</figcaption></figure>\n";
}

std::string fine(double mm, const Voice& v) {
  return spelt(v.units == UnitSystem::inch ? spoken(1000 * mm / inch, 3) + " thou" : spoken(1000 * mm, 1) + " µm", v);
}

}  // namespace

std::string budget_chart(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const std::pair<const char*, const char*> parts[] = {{"proof.fit-lower-scan", "u_lower_mm"},
                                                       {"proof.fit-upper-scan", "u_upper_mm"},
                                                       {"proof.instrument", "u_instrument_mm"},
                                                       {"proof.registration", "u_registration_mm"},
                                                       {"proof.temperature", "u_temperature_mm"}};
  const auto all = fields(r);
  std::vector<Bar> bars;
  for (const auto& [name, id] : parts) {
    double sum = 0, area = 0;
    const auto& u = find_field(all, id).values;
    for (std::size_t i = 0; i < u.size(); ++i)
      if (std::isfinite(u[i])) sum += r.sheet.area[i] * u[i] * u[i], area += r.sheet.area[i];
    const double rms = area > 0 ? std::sqrt(sum / area) : 0;
    bars.push_back({told(v, name), fine(rms, v), rms});
  }
  return bar_chart(told(v, "proof.standard-uncertainty-gap-cause"), bars);
}

std::string residual_chart(const Inspection& r) {
  const Voice v = voice_of(r.job);
  auto worst_first = r.alignment.residuals;
  std::stable_sort(worst_first.begin(), worst_first.end(), [](const TargetResidual& a, const TargetResidual& b) {
    return a.residual.norm() > b.residual.norm();
  });
  std::vector<Bar> bars;
  for (const auto& t : worst_first) {
    if (bars.size() == 12) break;  // the table has them all
    const double left_out = t.leave_one_out > 0 ? t.leave_one_out : -1;
    bars.push_back({"<tspan translate=\"no\">" + escape(t.name) + "</tspan>", fine(t.residual.norm(), v),
                    t.residual.norm(), 0, left_out});
  }
  if (bars.empty()) return "";
  return bar_chart(told(v, "proof.what-each-target-misses"), bars);
}

std::string change_chart(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const Effect &now = r.plan.now, &after = r.plan.after;
  std::vector<Bar> bars;
  auto pair = [&](const char* name, double a, double b, auto show) {
    const double most = std::max(a, b);
    if (!(a + b > 0)) return;  // nothing then, nothing now, or not computed
    bars.push_back({told(v, name), show(a), a / most});
    bars.push_back({"", show(b), b / most, 0, -1, "col then"});
  };
  const auto area = [&](double x) { return with_unit(x, Dimension::area, v); };
  const auto time = [&](double s) { return with_time(s, r.nominal_filling.fill_time, v); };
  pair("order.area-out-tolerance", now.out_of_tolerance_area, after.out_of_tolerance_area, area);
  pair("corrections.greatest-lead-front", now.max_lead_s, after.max_lead_s, time);
  pair("corrections.lead-root-mean-square", now.rms_lead_s, after.rms_lead_s, time);
  pair("outcome.dry-area-one-filling", now.dry_area, after.dry_area, area);
  pair("order.dry-area-mean-drawn", now.expected_dry_area, after.expected_dry_area, area);
  pair("page.last-point-fill-from", now.last_to_vent, after.last_to_vent, [&](double mm) { return by_tape(mm, v); });
  if (bars.empty() || r.plan.chosen.empty()) return "";
  return bar_chart(told(v, "corrections.now-upper-bar-after"), bars, 1);
}

std::string fraction_bar(const Verdict& verdict, const Voice& v) {
  const char* names[] = {"page.conforming", "page.undecided", "page.nonconforming", "page.not-measured"};
  const char* styles[] = {"c0", "c1", "c2", "c3"};
  std::string key,
      bar = "<div class=\"shares\" role=\"img\" aria-label=\"" + told(v, "page.share-area-each-class") + "\">";
  for (int k = 0; k < 4; ++k) {
    const double share = verdict.fraction[k];
    if (share > 0)
      bar += "<span class=\"" + std::string(styles[k]) + "\" style=\"flex-grow:" + fixed(100 * share, 3) + "\"></span>";
    key += "<li><i class=\"" + std::string(styles[k]) + "\"></i>" + told(v, names[k]) + " <b>" + percent(share, 1, v) +
           "</b></li>";
  }
  return bar + "</div><ul class=\"key\">" + key + "</ul>\n";
}

}  // namespace gapfront::report
