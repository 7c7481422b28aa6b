#include <algorithm>
#include <cctype>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "report/scales.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

std::string dry_text(const Filling& f, UnitSystem u) {
  if (f.pockets.empty()) return "none";
  return std::to_string(f.pockets.size()) + " (" + with_unit(dry_area(f), D::area, u) + " dry)";
}

// The share of a region's cure or of the front in words: "early by 12.3 s (8.1 % of the fill time)".
std::string lead_sentence(const Inspection& r) {
  const Lead& l = r.lead;
  if (l.max_node < 0 || !std::isfinite(l.max_s) || l.max_s <= 0)
    return "Nowhere does the front run ahead of the nominal one.";
  const Vec3& p = r.sheet.mesh.points[l.max_node];
  std::string s = "The front runs ahead most at " + place(p, r.job.units) + ": " +
                  with_time(l.max_s, r.nominal_filling.fill_time) + " early";
  if (r.nominal_filling.fill_time > 0)
    s += ", " + fixed(100 * l.max_s / r.nominal_filling.fill_time, 0) + " % of the nominal fill time";
  return s + ".";
}

std::vector<std::vector<std::string>> effect_rows(const std::vector<std::pair<std::string, Effect>>& states,
                                                  double fill_time, UnitSystem u) {
  std::vector<std::vector<std::string>> rows(1, {""});
  for (const auto& [name, e] : states) rows[0].push_back(name);
  auto add = [&](const char* name, auto value) {
    std::vector<std::string> row{name};
    for (const auto& [label, e] : states) row.push_back(value(e));
    rows.push_back(row);
  };
  add("nonconforming area", [&](const Effect& e) { return with_unit(e.nonconforming_area, D::area, u); });
  add("area out of tolerance", [&](const Effect& e) { return with_unit(e.out_of_tolerance_area, D::area, u); });
  add("greatest lead of the front", [&](const Effect& e) { return with_time(e.max_lead_s, fill_time); });
  add("lead, root mean square", [&](const Effect& e) { return with_time(e.rms_lead_s, fill_time); });
  add("dry area", [&](const Effect& e) { return with_unit(e.dry_area, D::area, u); });
  if (states[0].second.pocket >= 0) {
    const auto drawn = [&](const Effect& e, const std::string& text) {
      return drawn_alike(states[0].second, e) ? text : std::string("–");
    };
    add("dry area, mean of the drawn fillings",
        [&](const Effect& e) { return drawn(e, with_unit(e.expected_dry_area, D::area, u)); });
    add("drawn fillings that trap air", [&](const Effect& e) { return drawn(e, fixed(100 * e.pocket, 0) + " %"); });
  }
  add("fill time", [&](const Effect& e) { return with_time(e.fill_time, fill_time); });
  add("last point to fill, from the vent", [&](const Effect& e) { return by_tape(e.last_to_vent, u); });
  return rows;
}

}  // namespace

std::string verdict_section(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Verdict& v = r.verdict;
  // The headline begins with the verdict's word, which already stands above it.
  const bool word = !v.headline.empty() && v.headline[0].id.rfind("verdict.", 0) == 0;
  const Text headline(v.headline.begin() + word, v.headline.end());
  std::string out =
      "<section class=\"verdict " +
      std::string(v.overall == Conformity::conforming  ? "ok"
                  : v.overall == Conformity::undecided ? "maybe"
                                                       : "bad") +
      "\">" +
      (r.plan.obstacle_says.empty() ? "" : "<p class=\"headline first\">" + told(r, r.plan.obstacle_says) + "</p>") +
      "<p class=\"word\">" + (provisional(r.job) ? "provisionally " : "") + to_string(v.overall) +
      "</p><p class=\"headline\">" + told(r, headline) + "</p>\n" + outcome_para(r);
  if (!v.would_change.empty()) out += para(told(r, v.would_change));
  out += fraction_bar(v) + open_points(r) + "</section>\n<section>";
  const auto all = fields(r);
  const Extremes ends = extremes(find_field(all, "U_mm"), UnitSystem::mm);
  const double worst = ends.maximum, middle = median_U(r);
  const double full = r.nominal_filling.fill_time;
  const Filling *nominal = &r.nominal_filling, *now = &r.filling, *after = &r.filling_after;
  const auto row = [&](const char* what, auto show) {
    return std::vector<std::string>{what, show(*nominal), show(*now), show(*after)};
  };
  const auto safety = [](double s) { return std::isfinite(s) ? fixed(s, s < 9.995 ? 2 : 0) : std::string("–"); };
  const auto balance = [&](const StateOutcome& s) { return s.balance > 0 ? safety(s.balance) : std::string("–"); };
  const Outcome& o = r.outcome;
  out += table(
      {{"what", "nominal gap", "measured gap", "after the corrections"},
       row("fill time", [&](const Filling& f) { return with_time(f.fill_time, full); }),
       row("last point to fill, from the vent", [&](const Filling& f) { return by_tape(f.last_to_vent, u); }),
       row("trapped air in the one filling computed", [&](const Filling& f) { return dry_text(f, u); }),
       {"closing force over opening force, least while it fills", balance(o.nominal), balance(o.now), balance(o.after)},
       row("the same, if the pump is not stopped when the mold is full",
           [&](const Filling& f) { return safety(f.opening.held.safety()); })});
  out += para(escape(lead_sentence(r)));
  if (const auto shut = clamping_sentence(r); !shut.empty()) out += para(shut);
  if (r.breathing.computed)
    out += para(
        "The verdict is about the gap as scanned, open and with nothing pressing on it; the front is computed with the "
        "gap under vacuum and resin, where the light upper half gives way.");
  out += para("The gap is known to ± " + with_U_of(middle, middle, u) + " (U at the median place; ± " +
              with_U_of(worst, worst, u) + " at the worst).");
  if (!r.plan.chosen.empty()) {
    out += "<p>What to do, in this order:</p><ol>";
    for (int i : r.plan.chosen) out += "<li>" + told(r, r.plan.candidates[i].instruction) + "</li>";
    out += "</ol>";
  }
  if (!r.plan.remains.empty()) out += para(told(r, r.plan.remains));
  return out + list(r, r.warnings) + "</section>\n";
}

/// What is not measured: how much, where, and whose scan is to be made again.
std::string unseen_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  std::string out;
  if (r.gap.unmeasured_area > 0) {
    out += para("Not measured: " + with_unit(r.gap.unmeasured_area, D::area, u) + " inside the seal line, of which " +
                with_unit(r.sheet.uncovered_area, D::area, u) +
                " are not covered by the lower scan. No gap is interpolated there; front and pockets are computed with "
                "the nominal gap there, on a guess of the lower face.");
    std::vector<std::vector<std::string>> rows{{"place", "area", "why"}};
    // More than a dozen are specks; the data file has them all.
    for (std::size_t i = 0; i < std::min<std::size_t>(12, r.verdict.unseen.size()); ++i) {
      const UnseenPlace& p = r.verdict.unseen[i];
      rows.push_back({place(p.centre, u), with_unit(p.area, D::area, u), told(r, why_missing(p.missing))});
    }
    if (rows.size() > 1) out += table(rows, "Places that are not measured, largest first");
  }
  if (r.sheet.masked_area > 0)
    out += para("Masked: " + with_unit(r.sheet.masked_area, D::area, u) +
                " around what stands on a half and is no moulding face; nothing is judged there and no resin flows.");
  return out;
}

std::string map_section(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const auto all = fields(r);
  auto map = [&](const char* id, bool isochrones = false) {
    const Field& f = find_field(all, id);
    return map_figure(r, f, "<b>" + escape(f.title) + ".</b> " + escape(f.meaning), isochrones);
  };
  std::string out = "<section>" + heading("gap", "The gap");
  out += viewer(r);
  out +=
      "<div class=\"choose\" id=\"choose\" hidden></div><p class=\"read\" id=\"read\" aria-live=\"polite\" "
      "hidden></p>\n<div class=\"maps\">";
  out +=
      map("deviation_mm") +
      class_figure(
          r, "<b>Conformity.</b> Plain: conforming. Stripes: undecided. Crosses: nonconforming. Dots: not measured." +
                 std::string(r.sheet.masked_area > 0 ? " Dotted circles: masked." : ""));
  out += map("gap_mm") + map("U_mm") + map("remainder_mm") + map("fibre_volume_fraction") + map("channel_mm") +
         map("load_share") + map("opening_margin_Pa") + map("lead_s") + map("arrival_nominal_s", true) +
         map("arrival_s", true) + map("peak_pressure_Pa") + map("deviation_after_mm");
  out +=
      "</div>\n" + map_orientation() + "<div class=\"pair\">" +
      corner_figure(r, find_field(all, "deviation_mm"), "The deviation on the sheet, seen from a corner and above.") +
      histogram_chart(r) + "</div>\n";
  const Verdict& v = r.verdict;
  const Field& deviation = find_field(all, "deviation_mm");
  const auto stat = [&](double mm) { return spoken(mm / per_shown_unit(D::length, u), decimals_of(deviation, u)); };
  out += table({{"deviation", "least", "5 %", "median", "mean", "95 %", "greatest", "standard deviation"},
                {"area-weighted, " + shown_unit(D::length, u), stat(v.minimum), stat(v.p05), stat(v.p50), stat(v.mean),
                 stat(v.p95), stat(v.maximum), stat(v.sigma)}});
  out += rigid_table(r);
  out += para("Best rigid move of the upper half: offset " + with_U_of(v.offset, v.offset_U, u) + " (U " +
              with_U_of(v.offset_U, v.offset_U, u) + "), tilt " +
              spoken(1e3 * v.tilt.x(), decimals_for(1e3 * v.tilt_U.x(), 3)) + " mm/m about X (U " +
              fixed(1e3 * v.tilt_U.x(), decimals_for(1e3 * v.tilt_U.x(), 3)) + ") and " +
              spoken(1e3 * v.tilt.y(), decimals_for(1e3 * v.tilt_U.y(), 3)) + " mm/m about Y (U " +
              fixed(1e3 * v.tilt_U.y(), decimals_for(1e3 * v.tilt_U.y(), 3)) + ").");
  out += zones_table(r);
  if (!v.regions.empty()) {
    std::vector<std::vector<std::string>> rows{
        {"region", "gap is", "centre", "area", "mean", "U of the mean", "peak", "volume"}};
    for (const auto& g : v.regions)
      rows.push_back({escape(g.name), g.high ? "wide" : "tight", place(g.centre, u), with_unit(g.area, D::area, u),
                      with_U_of(g.mean, g.mean_U, u), with_U_of(g.mean_U, g.mean_U, u),
                      with_U_of(g.peak, median_U(r), u), with_unit(g.volume, D::volume, u)});
    out += table(rows, "Regions that deviate, largest first");
  } else {
    out += para("No region deviates provably over more than the smallest area listed.");
  }
  return out + unseen_table(r) + masked_line(r) + "</section>\n";
}

std::string front_section(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const double pressure_unit = u == UnitSystem::inch ? 6894.757 : 1e5;
  auto curve = [&](const char* name, const Filling& f, auto y, bool dashed) {
    Curve c{name, {}, dashed};
    for (const auto& s : f.history) c.points.emplace_back(s.time, y(s));
    return c;
  };
  auto pressure = [&](const FlowSample& s) { return s.inlet_pressure / pressure_unit; };
  auto rate = [&](const FlowSample& s) { return s.rate / (1e6 / 60); };
  auto filled = [&](const FlowSample& s) { return 100 * s.filled; };
  std::string out = "<section>" + heading("front", "The front") + para(escape(lead_sentence(r)));
  if (r.breathing.computed)
    out += para(
        "Both fronts run in the gap under vacuum and resin, each with the breathing of its own upper half; see what "
        "the breathing does to the front.");
  out +=
      "<div class=\"pair\">" +
      line_chart(
          "Pressure at the inlet, above atmosphere", "time, s", shown_unit(D::pressure, u),
          {curve("nominal gap", r.nominal_filling, pressure, true), curve("measured gap", r.filling, pressure, false)},
          r.job.flow.pressure_limit / pressure_unit, "limit") +
      line_chart("Flow rate at the inlet", "time, s", "L/min",
                 {curve("nominal gap", r.nominal_filling, rate, true), curve("measured gap", r.filling, rate, false)}) +
      line_chart(
          "Share of the cavity filled", "time, s", "%",
          {curve("nominal gap", r.nominal_filling, filled, true), curve("measured gap", r.filling, filled, false)}) +
      "</div>\n";
  out += lead_regions(r);
  if (r.filling.pockets.empty()) {
    out += para("The front closes around no air.");
  } else {
    std::vector<std::vector<std::string>> rows{{"trapped air", "closed after", "volume then", "volume at the end",
                                                "pressure at the end, absolute", "dry area"}};
    for (const auto& p : r.filling.pockets)
      rows.push_back({place(p.centre, u), with_time(p.closed_at, r.nominal_filling.fill_time),
                      with_unit(p.initial_volume, D::volume, u), with_unit(p.final_volume, D::volume, u),
                      with_unit(p.final_pressure, D::pressure, u),
                      with_unit(p.area, D::area, u) + (p.area_U < 0 ? "" : " ± " + with_unit(p.area_U, D::area, u))});
    out += table(rows, "Pockets: the front has closed around air with no open vent");
    if (dry_area(r.filling) <= r.job.ensemble.min_dry)
      out += para("Together they leave no more than " + min_dry_words(r) + " dry, too little to count as trapped air.");
    const auto& all = r.filling.pockets;
    if (std::any_of(all.begin(), all.end(), [](const Pocket& p) { return p.area_U >= 0; }))
      out += para("± is what the mesh does to the dry area, from the filling run once more on half the edge.");
    if (std::any_of(all.begin(), all.end(), [](const Pocket& p) { return p.area_fine == 0; }))
      out += para(
          "Where ± is as large as the area, the finer mesh finds no pocket: whether air is trapped there cannot "
          "be told.");
  }
  return out + list(r, r.filling.warnings) + "</section>\n";
}

std::string corrections_section(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const CorrectionPlan& p = r.plan;
  std::string out = "<section>" + heading("corrections", "The corrections");
  out += para("Every effect below is re-computed through gap, glass and front; none is assumed.");
  if (r.breathing.computed)
    out += para(
        "Tolerance is about the gap as scanned, the front about the gap under vacuum and resin. How the half breathes "
        "is computed anew for the chosen set; every other effect takes it as it is now.");
  std::vector<std::pair<std::string, Effect>> states{{"now", p.now}};
  for (std::size_t k = 0; k < p.chosen.size() && k < p.after_each.size(); ++k)
    states.emplace_back((k ? "then " : "after ") + escape(p.candidates[p.chosen[k]].name), p.after_each[k]);
  const std::string chart = change_chart(r),
                    steps = table(effect_rows(states, r.nominal_filling.fill_time, u), "The chosen set, step by step");
  out += chart.empty() ? steps : "<div class=\"pair\">" + chart + "<div>" + steps + "</div></div>\n";
  if (!p.remains.empty()) out += para(told(r, p.remains));
  const bool drawn = p.now.pocket >= 0;
  if (!p.candidates.empty())
    out += para(
        "Benefit: what the correction takes off the sum of three shares, per hour of effort. They are the area out of "
        "tolerance (mean of provably and by the value alone) and the dry area, of the sheet; and the lead, root mean "
        "square, of the nominal fill time." +
        std::string(drawn ? " Air may be trapped here, so fillings were drawn for every state, with gap and glass at "
                            "random within their uncertainty: the dry area that counts is the mean of them."
                          : "") +
        (drawn && !drawn_alike(p.now, p.candidates[0].before)
             ? " To rank them, candidates are drawn " + std::to_string(p.candidates[0].before.drawn.size()) +
                   " times and a state between first and last fewer times than " + std::to_string(p.now.drawn.size()) +
                   ": their means do not compare with those of the chosen set."
             : ""));
  std::vector<std::vector<std::string>> rows{{"", "do this", "size", "out of tolerance", "greatest lead",
                                              drawn ? "dry area, mean of the drawn fillings" : "dry area", "effort, h",
                                              "benefit"}};
  for (const auto& c : p.candidates) {
    std::string size;
    if (c.area > 0) size += with_unit(c.area, D::area, u);
    if (c.volume > 0) size += "<br>" + with_unit(c.volume, D::volume, u);
    if (c.mass > 0) size += "<br>" + escape(format_mass(c.mass, u));
    auto change = [&](double a, double b, D d) { return shown(a, d, u) + " → " + with_unit(b, d, u); };
    rows.push_back({"<b>" + escape(c.name) + "</b><br>" + to_string(c.kind),
                    "<div class=\"do\">" + told(r, c.instruction) + "</div>", size,
                    change(c.before.out_of_tolerance_area, c.after.out_of_tolerance_area, D::area),
                    with_time(c.before.max_lead_s, r.nominal_filling.fill_time) + " → " +
                        with_time(c.after.max_lead_s, r.nominal_filling.fill_time),
                    drawn ? change(c.before.expected_dry_area, c.after.expected_dry_area, D::area)
                          : change(c.before.dry_area, c.after.dry_area, D::area),
                    fixed(c.effort, 1), fixed(c.benefit, 2)});
  }
  if (p.candidates.empty())
    out += para("No correction is proposed.");
  else
    out += table(rows, "All candidates, each alone, by benefit per hour of effort");
  return out + list(r, p.warnings) + "</section>\n";
}

}  // namespace gapfront::report
