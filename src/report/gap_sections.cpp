// The proof behind the verdict: zones, what a shim could cure, the budget of a node and of the mean, spot readings.
#include <algorithm>
#include <cmath>

#include "report/axes.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

/// Area-weighted root mean square of a field; NaN without values.
double rms(const Inspection& r, const std::vector<double>& v) {
  double sum = 0, area = 0;
  for (std::size_t i = 0; i < v.size(); ++i)
    if (std::isfinite(v[i])) sum += r.sheet.area[i] * v[i] * v[i], area += r.sheet.area[i];
  return area > 0 ? std::sqrt(sum / area) : NAN;
}

Message zone_name(const ZoneVerdict& z) {
  return z.name.empty() ? Message("zones.rest") : Message("list.plain", {arg::name(z.name)});
}

/// What would decide a zone, with its name.
Message of_zone(const ZoneVerdict& z) {
  return Message("list.named", {arg::message(zone_name(z)), arg::message(in_sequence(z.would_change))});
}

}  // namespace

std::string zones_table(const Inspection& r) {
  const Voice v = voice_of(r.job);
  if (r.verdict.zones.empty()) return "";
  std::vector<std::vector<std::string>> rows{{told(v, "zones.zone"), told(v, "zones.verdict"), told(v, "page.area")}};
  for (int k = 0; k < 4; ++k) rows[0].push_back(told(v, word_of(static_cast<Conformity>(k))));
  rows[0].insert(rows[0].end(), {told(v, "zones.mean-deviation"), told(v, "gap.u-mean")});
  std::string open;
  for (const ZoneVerdict& z : r.verdict.zones) {
    rows.push_back({told(v, zone_name(z)), told(v, word_of(z.overall)), with_unit(z.area, D::area, v),
                    percent(z.fraction[0], 1, v), percent(z.fraction[1], 1, v), percent(z.fraction[2], 1, v),
                    percent(z.fraction[3], 1, v), with_U_of(z.mean, z.budget.U, v),
                    with_U_of(z.budget.U, z.budget.U, v)});
    if (!z.would_change.empty()) open += "<li>" + told(v, of_zone(z)) + "</li>";
  }
  return table(rows, told(v, "zones.zones-each-own-limits")) + (open.empty() ? "" : "<ul>" + open + "</ul>\n");
}

std::string rigid_table(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const Verdict& d = r.verdict;
  const auto all = fields(r);
  return table(
      {{told(v, "zones.deviation-root-mean-square"), "", "U", told(v, "zones.cured")},
       {told(v, "front.measured"), with_unit(rms(r, find_field(all, "deviation_mm").values), D::length, v), "–", ""},
       {told(v, "zones.best-fit-plane-offset"), with_U_of(d.rigid_rms, d.rigid_rms_U, v),
        with_U_of(d.rigid_rms_U, d.rigid_rms_U, v),
        told(v, d.rigid_significant ? "zones.shims" : "zones.nothing-may-no-more")},
       {told(v, "zones.remainder"), with_unit(d.remainder_rms, D::length, v), "–", told(v, "zones.work-face")}});
}

std::string mean_budget_table(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const MeanBudget& b = r.verdict.mean_budget;
  const auto all = fields(r);
  const auto row = [&](const char* name, const char* field, double mean, const std::string& kind) {
    return std::vector<std::string>{told(v, name), with_unit(rms(r, find_field(all, field).values), D::length, v),
                                    with_unit(mean, D::length, v), kind};
  };
  const std::string apart = told(v, "zones.independent-from-place-place");
  const std::string common = told(v, "zones.common-whole-does-not");
  // Warp and steps that are declared, or told by the targets. What is one error of all places differs from its mean by
  // how the gap lies to the halves, some per cent on a steep wall.
  const bool along_scan = b.instrument < 0.9 * rms(r, find_field(all, "u_instrument_mm").values);
  return table({{told(v, "zones.standard-uncertainty"), told(v, "zones.gap-place-root-mean"),
                 told(v, "zones.mean-gap-whole"), ""},
                row("proof.fit-lower-scan", "u_lower_mm", b.lower, apart),
                row("proof.fit-upper-scan", "u_upper_mm", b.upper, apart),
                row("proof.instrument", "u_instrument_mm", b.instrument,
                    along_scan ? told(v, "zones.varies-along-scan") : common),
                row("proof.registration", "u_registration_mm", b.registration, common),
                row("proof.temperature", "u_temperature_mm", b.temperature, common),
                row("zones.u-expanded", "U_mm", b.U, "")},
               told(v, "zones.budget-what-averaging-over"));
}

std::string spots_chart(const Inspection& r) {
  const Voice voice = voice_of(r.job);
  const double per = mm_per_unit(voice.units);
  double low = INFINITY, high = -INFINITY;
  for (const SpotComparison& s : r.spots) {
    if (!s.found) continue;
    low = std::min({low, (s.map - s.map_U) / per, (s.reading - s.reading_U) / per});
    high = std::max({high, (s.map + s.map_U) / per, (s.reading + s.reading_U) / per});
  }
  if (!(high > low)) return "";
  const double step = tick_step(high - low);
  low = step * std::floor(low / step), high = step * std::ceil(high / step);
  // A square field of 300 pixels: the line of agreement runs at 45 degrees.
  const Axis across{low, high, 60, 360}, upward{low, high, 310, 10};
  const auto x = [&](double v) { return fixed(across.at(v)); };
  const auto y = [&](double v) { return fixed(upward.at(v)); };
  std::string out;
  for (int k = 0; low + k * step < high + 0.5 * step; ++k) {
    const double v = low + k * step;
    out += path("grid", "M60 " + y(v) + "H360") + path("grid", "M" + x(v) + " 10V310");
    out += text(54, upward.at(v) + 4, tick_text(v, step, voice), "end") +
           text(across.at(v), 327, tick_text(v, step, voice), "middle");
  }
  out += path("lim", "M" + x(low) + " " + y(low) + "L" + x(high) + " " + y(high));
  for (const SpotComparison& s : r.spots) {
    if (!s.found) continue;
    const double a = s.map / per, b = s.reading / per, ua = s.map_U / per, ub = s.reading_U / per;
    out += path("bar", "M" + x(a - ua) + " " + y(b) + "H" + x(a + ua)) +
           path("bar", "M" + x(a) + " " + y(b - ub) + "V" + y(b + ub)) + "<circle class=\"col\" cx=\"" + x(a) +
           "\" cy=\"" + y(b) + "\" r=\"4\"/>" + "<text translate=\"no\" x=\"" + fixed(across.at(a) + 6) + "\" y=\"" +
           y(b + 0.25 * ub) + "\" text-anchor=\"start\">" + escape(s.name) + "</text>";
  }
  const std::vector<Argument> unit{arg::name(length_unit(voice.units))};
  out += text(210, 346, told(voice, "zones.gap-map", unit), "middle");
  out += "<text transform=\"translate(14 160) rotate(-90)\" text-anchor=\"middle\">" +
         told(voice, "zones.reading", unit) + "</text>";
  const std::string title =
      told(voice, Text{Message("zones.spot-readings-against-map"), Message("zones.bars-u-either-dotted"),
                       Message("zones.reading-whose-bars-miss")});
  return chart_figure(title, title, out, 352);
}

std::string extra_inputs_table(const Inspection& r) {
  if (r.extra_inputs.empty()) return "";
  const Voice v = voice_of(r.job);
  std::vector<std::vector<std::string>> rows{
      {told(v, "zones.read-besides"), told(v, "proof.file"), told(v, "proof.sha-256")}};
  for (const ExtraInput& e : r.extra_inputs)
    rows.push_back({told(v, e.use), own(e.file), "<code>" + escape(e.sha256) + "</code>"});
  return table(rows);
}

}  // namespace gapfront::report
