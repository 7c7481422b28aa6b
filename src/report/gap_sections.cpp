// The proof behind the verdict: zones, what a shim could cure, the budget of a node and of the mean, spot readings.
#include <algorithm>
#include <cmath>

#include "report/axes.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

std::string percent(double fraction) { return fixed(100 * fraction) + " %"; }

/// Area-weighted root mean square of a field; NaN without values.
double rms(const Inspection& r, const std::vector<double>& v) {
  double sum = 0, area = 0;
  for (std::size_t i = 0; i < v.size(); ++i)
    if (std::isfinite(v[i])) sum += r.sheet.area[i] * v[i] * v[i], area += r.sheet.area[i];
  return area > 0 ? std::sqrt(sum / area) : NAN;
}

}  // namespace

/// What would decide a zone, with its name; "the rest" is no name from the job.
Message of_zone(const ZoneVerdict& z) {
  const Message name = z.name == "the rest" ? Message("zones.rest") : Message("list.plain", {arg::name(z.name)});
  return Message("list.named", {arg::message(name), arg::message(in_sequence(z.would_change))});
}

std::string zones_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  if (r.verdict.zones.empty()) return "";
  std::vector<std::vector<std::string>> rows{{"zone", "verdict", "area", "conforming", "undecided", "nonconforming",
                                              "not measured", "mean deviation", "U of the mean"}};
  std::string open;
  for (const ZoneVerdict& z : r.verdict.zones) {
    rows.push_back({own(z.name), to_string(z.overall), with_unit(z.area, D::area, u), percent(z.fraction[0]),
                    percent(z.fraction[1]), percent(z.fraction[2]), percent(z.fraction[3]),
                    with_U_of(z.mean, z.budget.U, u), with_U_of(z.budget.U, z.budget.U, u)});
    if (!z.would_change.empty()) open += "<li>" + told(r, of_zone(z)) + "</li>";
  }
  return table(rows, "Zones, each with its own limits") + (open.empty() ? "" : "<ul>" + open + "</ul>\n");
}

std::string rigid_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Verdict& v = r.verdict;
  const auto all = fields(r);
  return table({{"deviation, root mean square over the area", "", "U", "cured by"},
                {"as measured", with_unit(rms(r, find_field(all, "deviation_mm").values), D::length, u), "–", ""},
                {"the best-fit plane: offset and two tilts", with_U_of(v.rigid_rms, v.rigid_rms_U, u),
                 with_U_of(v.rigid_rms_U, v.rigid_rms_U, u),
                 v.rigid_significant ? "shims" : "nothing: it may be no more than uncertainty"},
                {"the remainder", with_unit(v.remainder_rms, D::length, u), "–", "work on a face"}});
}

std::string mean_budget_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const MeanBudget& b = r.verdict.mean_budget;
  const auto all = fields(r);
  const auto row = [&](const char* name, const char* field, double mean, const char* kind) {
    return std::vector<std::string>{name, with_unit(rms(r, find_field(all, field).values), D::length, u),
                                    with_unit(mean, D::length, u), kind};
  };
  const char* apart = "independent from place to place: shrinks with the area";
  const char* common = "common to the whole: does not shrink";
  return table({{"standard uncertainty of", "the gap at a place (root mean square)", "the mean gap of the whole", ""},
                row("fit to the lower scan", "u_lower_mm", b.lower, apart),
                row("fit to the upper scan", "u_upper_mm", b.upper, apart),
                row("instrument", "u_instrument_mm", b.instrument, common),
                row("registration", "u_registration_mm", b.registration, common),
                row("temperature", "u_temperature_mm", b.temperature, common),
                row("U, expanded", "U_mm", b.U, "")},
               "The budget, and what averaging over the area does to it");
}

std::string spots_chart(const Inspection& r) {
  const bool inch = r.job.units == UnitSystem::inch;
  const double per = inch ? 25.4 : 1;
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
    out +=
        text(54, upward.at(v) + 4, tick_text(v, step), "end") + text(across.at(v), 327, tick_text(v, step), "middle");
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
  out += text(210, 346, std::string("gap in the map, ") + (inch ? "in" : "mm"), "middle");
  out += "<text transform=\"translate(14 160) rotate(-90)\" text-anchor=\"middle\">" +
         std::string(inch ? "reading, in" : "reading, mm") + "</text>";
  const std::string title =
      "Spot readings against the map. Bars: ± U of either; dotted: agreement. A reading whose bars miss the line "
      "disagrees.";
  return chart_figure(title, title, out, 352);
}

std::string extra_inputs_table(const Inspection& r) {
  if (r.extra_inputs.empty()) return "";
  std::vector<std::vector<std::string>> rows{{"read besides", "file", "SHA-256"}};
  for (const ExtraInput& e : r.extra_inputs)
    rows.push_back({escape(e.use), escape(e.file), "<code>" + escape(e.sha256) + "</code>"});
  return table(rows);
}

}  // namespace gapfront::report
