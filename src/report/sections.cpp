#include <algorithm>
#include <cctype>
#include <cmath>

#include "gapfront/process_words.hpp"
#include "gapfront/report.hpp"
#include "report/made_apart.hpp"
#include "report/overview.hpp"
#include "report/scales.hpp"
#include "report/step_effect.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

std::string dry_text(const Filling& f, const Voice& v) {
  if (f.pockets.empty()) return told(v, "page.none");
  return told(v, "page.dry", {arg::number(static_cast<double>(f.pockets.size())), arg::area(flow::dry_area(f))});
}

// How far the front runs ahead where it does so most.
std::string lead_para(const Inspection& r, const Voice& v) {
  const Lead& l = r.lead;
  if (l.max_node < 0 || !std::isfinite(l.max_s) || l.max_s <= 0) return para(told(v, "page.nowhere-does-front-run"));
  const double full = r.nominal_filling.fill_time;
  std::vector<Argument> said{arg::place(r.sheet.mesh.points[l.max_node]), arg::name(with_time(l.max_s, full, v))};
  if (!(full > 0)) return para(told(v, "page.front-runs-ahead-most-early", said));
  said.push_back(arg::fraction(l.max_s / full, 0));
  return para(told(v, "page.front-runs-ahead-most", said));
}

/// States side by side; their names are HTML.
std::vector<std::vector<std::string>> effect_rows(const std::vector<std::pair<std::string, Effect>>& states,
                                                  double fill_time, const Voice& v) {
  std::vector<std::vector<std::string>> rows(1, {""});
  for (const auto& [name, e] : states) rows[0].push_back(name);
  auto add = [&](const char* name, auto value) {
    std::vector<std::string> row{told(v, name)};
    for (const auto& [label, e] : states) row.push_back(value(e));
    rows.push_back(row);
  };
  add("order.area-out-tolerance", [&](const Effect& e) { return with_unit(e.out_of_tolerance_area, D::area, v); });
  add("corrections.nonconforming-area", [&](const Effect& e) { return with_unit(e.nonconforming_area, D::area, v); });
  add("corrections.greatest-lead-front", [&](const Effect& e) { return with_time(e.max_lead_s, fill_time, v); });
  add("corrections.lead-root-mean-square", [&](const Effect& e) { return with_time(e.rms_lead_s, fill_time, v); });
  add("front.dry-area", [&](const Effect& e) { return with_unit(e.dry_area, D::area, v); });
  if (std::isfinite(states[0].second.pocket)) {
    const auto drawn = [&](const Effect& e, const std::string& text) {
      return correct::drawn_alike(states[0].second, e) ? text : std::string("–");
    };
    add("order.dry-area-mean-drawn",
        [&](const Effect& e) { return drawn(e, with_unit(e.expected_dry_area, D::area, v)); });
    add("order.drawn-fillings-trap-air", [&](const Effect& e) { return drawn(e, percent(e.pocket, 0, v)); });
  }
  add("page.fill-time", [&](const Effect& e) { return with_time(e.fill_time, fill_time, v); });
  add("page.last-point-fill-from", [&](const Effect& e) { return by_tape(e.last_to_vent, v); });
  return rows;
}

/// What the fillings with nominal, measured and corrected gap come to.
std::string filling_table(const Inspection& r, const Voice& v) {
  const double full = r.nominal_filling.fill_time;
  const Filling *nominal = &r.nominal_filling, *now = &r.filling, *after = &r.filling_after;
  const auto row = [&](const char* what, auto show) {
    return std::vector<std::string>{told(v, what), show(*nominal), show(*now), show(*after)};
  };
  const auto safety = [&](double s) { return std::isfinite(s) ? fixed(s, s < 9.995 ? 2 : 0, v) : std::string("–"); };
  const Outcome& o = r.outcome;
  return table({{told(v, "page.what"), told(v, "page.nominal-gap"), told(v, "page.measured-gap"),
                 told(v, "page.after-corrections")},
                row("page.fill-time", [&](const Filling& f) { return with_time(f.fill_time, full, v); }),
                row("page.last-point-fill-from", [&](const Filling& f) { return by_tape(f.last_to_vent, v); }),
                row("outcome.trapped-air-one-filling", [&](const Filling& f) { return dry_text(f, v); }),
                {told(v, "clamping.closing-force-over-opening"), safety(o.nominal.balance), safety(o.now.balance),
                 safety(o.after.balance)},
                row("clamping.same-if-pump-not", [&](const Filling& f) { return safety(f.opening.held.safety()); })});
}

}  // namespace

std::string scan_first(const Inspection& r, bool work, const Voice& v) {
  const Text scan = conformity::scan_first(r.verdict, work);
  return scan.empty() ? "" : para(told(v, scan));
}

std::string verdict_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  std::string out = first_screen(r) + "<section>" + outcome_para(r);
  if (!r.verdict.would_change.empty()) out += para(told(v, r.verdict.would_change));
  out += fraction_bar(r.verdict, v) + open_points(r) + filling_table(r, v) + lead_para(r, v);
  if (const auto shut = clamping_sentence(r); !shut.empty()) out += para(shut);
  if (r.breathing.computed) out += para(told(v, "clamping.verdict-about-gap-scanned"));
  const auto all = fields(r);
  const double worst = extremes(find_field(all, "U_mm"), UnitSystem::mm).maximum, middle = median_U(all);
  out += para(told(v, "page.gap-known-u-median",
                   {arg::name(with_U_of(middle, middle, v)), arg::name(with_U_of(worst, worst, v))}));
  if (has_work_order(r)) {
    out += scan_first(r, true, v) + para(told(v, "page.what-do-this-order")) + "<ol>";
    for (int i : r.plan.chosen) out += "<li>" + told(v, r.plan.candidates[i].instruction) + "</li>";
    out += "</ol>";
  }
  if (!r.plan.remains.empty()) out += para(told(v, r.plan.remains));
  return out + list(r, r.warnings) + "</section>\n";
}

namespace {

/// What is not measured: how much, where, and whose scan is to be made again.
std::string unseen_table(const Inspection& r) {
  const Voice v = voice_of(r.job);
  std::string out;
  if (r.gap.unmeasured_area > 0) {
    out += para(told(v, Text{Message("cover.not-measured-inside-seal",
                                     {arg::area(r.gap.unmeasured_area), arg::area(r.sheet.uncovered_area)}),
                             Message("cover.no-gap-interpolated-there")}));
    std::vector<std::vector<std::string>> rows{{told(v, "page.place"), told(v, "page.area"), told(v, "cover.why")}};
    // More than a dozen are specks; the data file has them all.
    for (std::size_t i = 0; i < std::min<std::size_t>(12, r.verdict.unseen.size()); ++i) {
      const UnseenPlace& p = r.verdict.unseen[i];
      rows.push_back({go(p.centre, v), with_unit(p.area, D::area, v), told(v, cavity::why_missing(p.missing))});
    }
    if (rows.size() > 1) out += table(rows, told(v, "cover.places-not-measured-largest"));
  }
  if (r.sheet.masked_area > 0)
    out += para(told(v, "cover.masked-around-what-stands", {arg::area(r.sheet.masked_area)}));
  return out;
}

/// The maps in plan.
std::string plan_maps(const Inspection& r, const Voice& v) {
  const auto all = fields(r);
  const auto map = [&](const char* id, bool isochrones) {
    const Field& f = find_field(all, id);
    return map_figure(r, f, map_caption(v, f), isochrones);
  };
  Text classes{Message("gap.plain-conforming"), Message("gap.stripes-undecided"), Message("gap.crosses-nonconforming"),
               Message("gap.dots-not-measured")};
  if (r.sheet.masked_area > 0) classes.push_back(Message("doubt.dotted-circles-masked"));
  std::vector<std::function<std::string()>> figures;
  for (const char* id :
       {"deviation_mm", "gap_mm", "U_mm", "remainder_mm", "fibre_volume_fraction", "channel_mm", "load_share",
        "opening_margin_Pa", "lead_s", "arrival_nominal_s", "arrival_s", "peak_pressure_Pa", "deviation_after_mm"})
    figures.push_back([&map, id] { return map(id, std::string_view(id).starts_with("arrival")); });
  figures.insert(figures.begin() + 1, [&] {
    return class_figure(r, "<b>" + told(v, full_sentence({Message("gap.conformity")})) + "</b> " + told(v, classes));
  });
  std::string out = "<div class=\"maps\">";
  for (const std::string& figure : made_apart(figures)) out += figure;
  return out + "</div>\n";
}

/// How the deviation is spread, and what a rigid move of the upper half would take off it.
std::string deviation_tables(const Inspection& r, const Voice& v) {
  const Verdict& d = r.verdict;
  const auto all = fields(r);
  const int decimals = decimals_of(find_field(all, "deviation_mm"), v.units);
  const auto stat = [&](double mm) { return say(arg::number(mm / per_shown_unit(D::length, v.units), decimals), v); };
  std::string out = table({{told(v, "gap.deviation-2"), told(v, "gap.least"), "5 %", told(v, "gap.median"),
                            told(v, "page.mean"), "95 %", told(v, "gap.greatest"), told(v, "gap.standard-deviation")},
                           {told(v, "gap.area-weighted", {arg::name(shown_unit(D::length, v.units))}), stat(d.minimum),
                            stat(d.p05), stat(d.p50), stat(d.mean), stat(d.p95), stat(d.maximum), stat(d.sigma)}});
  out += rigid_table(r);
  const auto tilt = [&](double t, double U) {
    return arg::name(say(arg::number(1e3 * t, decimals_for(1e3 * U, 3)), v) + " mm/m");
  };
  const auto tilt_U = [&](double U) { return arg::number(1e3 * U, decimals_for(1e3 * U, 3)); };
  return out + para(told(v, "gap.upper-half-sits-off",
                         {arg::name(with_U_of(d.offset, d.offset_U, v)),
                          arg::name(with_U_of(d.offset_U, d.offset_U, v)), tilt(d.tilt.x(), d.tilt_U.x()),
                          tilt_U(d.tilt_U.x()), tilt(d.tilt.y(), d.tilt_U.y()), tilt_U(d.tilt_U.y())}));
}

std::string regions_table(const Inspection& r, const Voice& v) {
  if (r.verdict.regions.empty()) return para(told(v, "gap.no-region-deviates-provably"));
  std::vector<std::vector<std::string>> rows{{told(v, "gap.region"), told(v, "gap.gap-3"), told(v, "page.centre"),
                                              told(v, "page.area"), told(v, "page.mean"), told(v, "gap.u-mean"),
                                              told(v, "page.peak"), told(v, "page.volume")}};
  const double U = median_U(fields(r));
  std::vector<std::string> ids;
  for (const auto& g : r.verdict.regions)
    ids.push_back(row_id(g.name)),
        rows.push_back({go(g.centre, own(g.name)), told(v, g.high ? "gap.wide" : "gap.tight"), go(g.centre, v),
                        with_unit(g.area, D::area, v), with_U_of(g.mean, g.mean_U, v), with_U_of(g.mean_U, g.mean_U, v),
                        with_U_of(g.peak, U, v), with_unit(g.volume, D::volume, v)});
  return table(rows, told(v, "gap.regions-deviate-largest-first"), ids);
}

}  // namespace

std::string map_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const auto all = fields(r);
  return "<section>" + heading("gap", told(v, "gap.gap")) + viewer(r) +
         "<div class=\"choose\" id=\"choose\" hidden></div><p class=\"read\" id=\"read\" aria-live=\"polite\" "
         "hidden></p>\n" +
         plan_maps(r, v) + map_orientation(v) + "<div class=\"pair\">" +
         corner_figure(r, find_field(all, "deviation_mm"), told(v, "gap.deviation-sheet-seen-from")) +
         histogram_chart(r) + "</div>\n" + deviation_tables(r, v) + zones_table(r) + regions_table(r, v) +
         unseen_table(r) + masked_line(r) + "</section>\n";
}

namespace {

/// Pressure, rate and filled share over the time, with the nominal gap and the measured one.
std::string front_charts(const Inspection& r, const Voice& v) {
  const double pressure_unit = per_shown_unit(D::pressure, v.units), rate_unit = per_shown_unit(D::flow_rate, v.units);
  const auto chart = [&](const char* title, const std::string& unit, auto y, double limit) {
    std::vector<Curve> curves{{Message("page.nominal-gap"), {}, true}, {Message("page.measured-gap"), {}, false}};
    for (const auto& s : r.nominal_filling.history) curves[0].points.emplace_back(s.time, y(s));
    for (const auto& s : r.filling.history) curves[1].points.emplace_back(s.time, y(s));
    return line_chart(v, Message(title), unit, curves, limit);
  };
  return "<div class=\"pair\">" +
         chart(
             "front.pressure-inlet-above-atmosphere", shown_unit(D::pressure, v.units),
             [&](const FlowSample& s) { return s.inlet_pressure / pressure_unit; },
             r.job.flow.pressure_limit / pressure_unit) +
         chart(
             "front.flow-rate-inlet", shown_unit(D::flow_rate, v.units),
             [&](const FlowSample& s) { return s.rate / rate_unit; }, 0) +
         chart(
             "front.share-cavity-filled", "%", [](const FlowSample& s) { return 100 * s.filled; }, 0) +
         "</div>\n";
}

/// Where resin may never come, and where the front may be early, over the drawn fillings.
std::string chance_maps(const Inspection& r, const Voice& v) {
  if (r.ensemble.dry.size() != r.sheet.size()) return "";
  const auto all = fields(r);
  std::string out;
  for (const char* id : {"p_dry", "p_lead"})
    if (const Field& f = find_field(all, id); extremes(f, v.units).maximum > 0)
      out += map_figure(r, f, map_caption(v, f), false);
  return out.empty() ? "" : "<div class=\"pair chances\">" + out + "</div>\n";
}

std::string pockets_table(const Inspection& r, const Voice& v) {
  const auto& all = r.filling.pockets;
  if (all.empty()) return para(told(v, "front.front-closes-around-no"));
  std::vector<std::vector<std::string>> rows{{told(v, "page.trapped-air"), told(v, "front.closed-after"),
                                              told(v, "front.volume-then"), told(v, "front.volume-end"),
                                              told(v, "front.pressure-end-absolute"), told(v, "front.dry-area")}};
  for (const auto& p : all)
    rows.push_back(
        {go(p.centre, v), with_time(p.closed_at, r.nominal_filling.fill_time, v),
         with_unit(p.initial_volume, D::volume, v), with_unit(p.final_volume, D::volume, v),
         with_unit(p.final_pressure, D::pressure, v),
         with_unit(p.area, D::area, v) + (!std::isfinite(p.area_U) ? "" : " ± " + with_unit(p.area_U, D::area, v))});
  std::string out = table(rows, told(v, "front.pockets-front-has-closed"), {row_id("air")});
  if (flow::dry_area(r.filling) <= r.job.ensemble.min_dry)
    out += para(told(v, "outcome.together-they-leave-no", {arg::given_area(r.job.ensemble.min_dry)}));
  if (std::any_of(all.begin(), all.end(), [](const Pocket& p) { return std::isfinite(p.area_U); }))
    out += para(told(v, "mesh.what-mesh-does-dry"));
  if (std::any_of(all.begin(), all.end(), [](const Pocket& p) { return p.area_fine == 0; }))
    out += para(told(v, "mesh.where-large-area-finer"));
  return out;
}

}  // namespace

std::string front_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  std::string out = "<section>" + heading("front", told(v, "front.front")) + lead_para(r, v);
  if (r.breathing.computed) out += para(told(v, "clamping.both-fronts-run-gap"));
  return out + front_charts(r, v) + list(r, pipeline::supply_words(r)) + lead_regions(r) + chance_maps(r, v) +
         pockets_table(r, v) + air_section(r) + list(r, r.filling.warnings) + "</section>\n";
}

namespace {

/// How the candidates are ranked, in words.
Text benefit_says(const CorrectionPlan& p) {
  Text out{Message("order.benefit-what-correction-takes"), Message("order.they-area-out-tolerance")};
  if (p.prices.decide()) out = ranking_by_cost(p);
  if (!std::isfinite(p.now.pocket)) return out;
  out.push_back(Message("order.air-may-trapped-here"));
  if (const Effect& first = p.candidates[0].before; !correct::drawn_alike(p.now, first))
    out.push_back(Message("draws.rank-them-candidates-drawn",
                          {static_cast<long>(first.drawn.size()), static_cast<long>(p.now.drawn.size())}));
  return out;
}

std::string candidates_table(const Inspection& r, const Voice& v) {
  const CorrectionPlan& p = r.plan;
  if (p.candidates.empty()) return para(told(v, "corrections.no-correction-proposed"));
  const bool drawn = std::isfinite(p.now.pocket);
  std::vector<std::vector<std::string>> rows{
      {"", told(v, "corrections.do-this"), told(v, "page.size"), told(v, "corrections.out-tolerance"),
       told(v, "corrections.greatest-lead"), told(v, drawn ? "order.dry-area-mean-drawn" : "front.dry-area"),
       told(v, "corrections.effort-h"),
       told(v, p.prices.decide() ? "optimiser.saves-the-run" : "corrections.benefit")}};
  std::vector<std::string> ids;
  for (std::size_t k = 0; k < p.candidates.size(); ++k) {
    const Correction& c = p.candidates[k];
    const Change does = change_of(p, k);
    std::string size;
    if (c.area > 0) size += with_unit(c.area, D::area, v);
    if (c.volume > 0) size += "<br>" + with_unit(c.volume, D::volume, v);
    if (c.mass > 0) size += "<br>" + say(arg::mass(c.mass), v);
    const auto change = [&](double a, double b) {
      return spelt(shown(a, D::area, v.units), v) + " → " + with_unit(b, D::area, v);
    };
    ids.push_back(row_id(c.name));
    rows.push_back({"<b>" + (c.face == "flange" || c.face == "settings" ? own(c.name) : go(c.centre, own(c.name))) +
                        "</b><br>" + told(v, word_of(c.kind)),
                    "<div class=\"do\">" + told(v, c.instruction) + "</div>", size,
                    change(does.before.out_of_tolerance_area, does.after.out_of_tolerance_area),
                    with_time(does.before.max_lead_s, r.nominal_filling.fill_time, v) + " → " +
                        with_time(does.after.max_lead_s, r.nominal_filling.fill_time, v),
                    drawn ? change(does.before.expected_dry_area, does.after.expected_dry_area)
                          : change(does.before.dry_area, does.after.dry_area),
                    fixed(c.effort, 1, v), p.prices.decide() ? saving_cell(c, p, v) : fixed(c.benefit, 2, v)});
  }
  return para(told(v, benefit_says(p))) + table(rows, told(v, "corrections.all-candidates"), ids);
}

}  // namespace

std::string corrections_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const CorrectionPlan& p = r.plan;
  std::string out = "<section>" + heading("corrections", told(v, "corrections.corrections")) +
                    para(told(v, "corrections.every-effect-below-re"));
  if (r.breathing.computed)
    out += para(
        told(v, Text{Message("clamping.tolerance-about-gap-scanned"), Message("clamping.how-half-breathes-computed")}));
  std::vector<std::pair<std::string, Effect>> states{{told(v, "corrections.now"), p.now}};
  for (std::size_t k = 0; k < p.chosen.size() && k < p.after_each.size(); ++k)
    states.emplace_back(
        told(v, k ? "corrections.then" : "corrections.after", {arg::name(p.candidates[p.chosen[k]].name)}),
        p.after_each[k]);
  const std::string chart = change_chart(r), steps = table(effect_rows(states, r.nominal_filling.fill_time, v),
                                                           told(v, "corrections.chosen-set-step-step"));
  out += chart.empty() ? steps : "<div class=\"pair\">" + chart + "<div>" + steps + "</div></div>\n";
  if (!p.remains.empty()) out += para(told(v, p.remains));
  return out + candidates_table(r, v) + options_table(p, v) + material_table(r, v) + list(r, p.warnings) +
         "</section>\n";
}

}  // namespace gapfront::report
