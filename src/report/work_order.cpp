// work-order.html: what a tool-maker takes to the mold. Print first.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/overview.hpp"
#include "report/paper.hpp"
#include "report/shop_files.hpp"
#include "report/square_code.hpp"
#include "report/templates.hpp"
#include "report/work_sketches.hpp"
#include "report/work_tables.hpp"
#include "units/words.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

constexpr const char* kCss = R"(
.work { break-before: page; }
.work .sketch svg { max-height: 26rem; }
.rim { fill: none; stroke: #5a6670; stroke-width: 1; }
.blind { fill: #b9c4cc; stroke: #b9c4cc; stroke-width: .5; }
.tape { stroke: #1d5c85; stroke-width: 1.2; stroke-dasharray: 5 3; fill: none; }
.level { fill: none; stroke: #6b93ab; stroke-width: .8; }
.stop, .axis { stroke: #111; stroke-width: .8; fill: none; }
.lead { stroke: #111; stroke-width: .6; fill: none; }
.thick { font-style: italic; }
.name.thick { fill: #2f617c; }
.name { fill: #111; stroke: #fff; stroke-width: 3; paint-order: stroke; }
.small { font-size: .82rem; color: var(--soft); overflow-wrap: anywhere; }
.blank { display: inline-block; min-width: 3.4rem; border-bottom: 1px solid var(--ink); height: 1.1rem; }
.sign { margin-top: 1rem; }
.sign span { white-space: nowrap; margin-right: 2rem; display: inline-block; }
header { position: relative; min-height: 3.1cm; padding-right: 2.9cm; align-content: flex-start; }
.code { position: absolute; right: 0; top: 0; width: 2.6cm; margin: 0; }
.square-code { width: 2.2cm; height: 2.2cm; margin-left: auto; }
.code figcaption { font-size: .68rem; line-height: 1.15; text-align: right; }
.done { border-bottom: 1px solid var(--ink); display: inline-block; min-width: 12rem; height: 1.4rem; }
ol li { margin: .15rem 0; }
@media print {
  body { font-size: 9pt; line-height: 1.3; }
  h2 { margin-top: .4rem; }
  .work p, .work table, .work ul, .work ol { margin-top: .3rem; margin-bottom: .3rem; }
  .work .sketch svg { max-height: 5.2cm; }
  table, figcaption { font-size: 8pt; }
  .stacks { width: 100%; }
  .do { min-width: 5cm; }
  td .done { min-width: 2.4cm; }  /* all columns fit on A4, the one that is signed as well */
  .work th, .work td { padding-top: .12rem; padding-bottom: .12rem; }
  .blank { height: .8rem; }
  .sign { margin-top: .4rem; }
  .sign span { margin-right: 1rem; }
  .sign .done { min-width: 8rem; }
  .work .pair > * { margin-top: 0; }
}
)";

/// The items of a list, each a text of the catalogue.
std::string items(const Voice& v, const std::vector<const char*>& ids) {
  std::string out;
  for (const char* id : ids) out += "<li>" + told(v, id) + "</li>";
  return out;
}

/// The first step of work inside an outline that no template can be laid for; empty: it is the usual one.
Message marked_by_coordinates(const Correction& c, const Voice& v) {
  if (!c.templates.empty()) return {};
  if (c.kind == Kind::reinforcement_patch) return Message("bench.cut-patch-by-outline");
  if (c.kind != Kind::build_up && c.kind != Kind::relief) return {};
  return c.blend > 0 ? Message("bench.mark-outline-feathered-edge", {arg::name(by_tape(c.blend, v))})
                     : Message("bench.mark-outline-by-coordinates");
}

std::vector<const char*> steps(Kind kind) {
  switch (kind) {
    case Kind::shim:
      return {"order.relieve-vacuum-pressure-open", "order.clean-flange-both-faces", "order.change-stacks-table-says",
              "order.close-without-resin", "order.see-dowels-guides-enter"};
    case Kind::build_up:
      return {"bench.find-middle-tapes-lay",        "order.degrease",
              "order.mix-filler-data-sheet",        "order.let-cure-through",
              "order.check-thickness-places-table", "order.measure-gap-again-before"};
    case Kind::relief:
      return {"bench.find-middle-tapes-lay", "order.make-sure-tools-skin",      "order.drill-grind-depth-stops",
              "order.grind-down-stops-then", "order.seal-polish-renew-release", "order.measure-gap-again-before"};
    case Kind::reinforcement_patch:
      return {"order.cut-patch-template-ply", "order.lay-inside-outline-side", "order.take-first-part-off"};
    case Kind::radius_packing:
      return {"order.cut-roving-length-weigh", "order.lay-into-radius-along", "order.take-first-part-off"};
    case Kind::overlap_cut:
    case Kind::filling_ply:
    case Kind::other_stack:
      return {"advice.change-cutting-plan-lay-up", "advice.lay-one-part-them", "order.take-first-part-off"};
    case Kind::vent_enlarge:
      return {"advice.make-sure-nothing-lies", "advice.open-mouth-face-width", "order.close-pull-vacuum-check",
              "order.fill-first-part-slowly"};
    case Kind::vent_add:
    case Kind::inlet_add:
      return {"order.make-sure-nothing-lies", "order.drill-fit-port-new", "order.close-pull-vacuum-check",
              "order.fill-first-part-slowly"};
    case Kind::vacuum_level:
      return {"optimiser.step-set-vacuum", "order.close-pull-vacuum-check", "order.fill-first-part-slowly",
              "optimiser.step-write-setting"};
    case Kind::lower_limit:
    case Kind::pump_steps:
      return {"optimiser.step-set-pump", "order.fill-first-part-slowly", "optimiser.step-write-setting"};
    case Kind::resin_warmed:
      return {"optimiser.step-warm-resin", "optimiser.step-cup-gel", "order.fill-first-part-slowly",
              "optimiser.step-write-setting"};
    case Kind::vent_open:
      return {"advice.step-leave-vent-open", "order.fill-first-part-slowly", "optimiser.step-write-setting"};
    case Kind::vent_move:
    case Kind::inlet_move:
      return {"order.make-sure-nothing-lies", "order.plug-old-hole-flush", "order.drill-fit-port-new",
              "order.close-pull-vacuum-check", "order.fill-first-part-slowly"};
  }
  return {};
}

std::string step_items(const Correction& c, const Voice& v) {
  std::vector<const char*> ids = steps(c.kind);
  const Message first = marked_by_coordinates(c, v);
  if (first.empty()) return items(v, ids);
  ids.erase(ids.begin());
  return "<li>" + told(v, first) + "</li>" + items(v, ids);
}

/// Of every part, or of a setting: it has no place on the tool.
bool has_place(Kind k) {
  return k != Kind::other_stack && k != Kind::vacuum_level && k != Kind::lower_limit && k != Kind::pump_steps &&
         k != Kind::resin_warmed && k != Kind::vent_open;
}

/// What to check before the first cut and after the last.
std::string checks(const Correction& c, double step, const Voice& v) {
  const bool hand = c.kind == Kind::build_up || c.kind == Kind::relief;
  std::string out;
  if (!c.tape.empty() && has_place(c.kind))
    out += "<li>" + told(v, "bench.before-measure-both-lengths", {arg::name(by_tape(2, v))}) + "</li>";
  if (std::any_of(c.templates.begin(), c.templates.end(), [](const auto& t) { return !t.rays.empty(); }))
    out += items(v, {"bench.before-lay-template-mark"});
  if (hand)
    out += items(
        v, {c.kind == Kind::build_up ? "bench.before-straight-edge-gauge" : "bench.before-straight-edge-gauge-must"});
  if (hand && step > 0)
    out += "<li>" + told(v, "bench.after-gauge-every-numbered", {arg::name(by_depth(step, v))}) + "</li>";
  // Ports, glass and settings leave the gap as it is.
  if (hand || c.kind == Kind::shim) out += items(v, {"bench.after-scan-both-halves"});
  if (out.empty()) return "";
  return "<h3>" + told(v, "bench.checks") + "</h3><ul>" + out + "</ul>\n";
}

// Corners of an outline in text, mm: nearer ones nobody marks by tape.
constexpr double kEvery = 10;

std::string outline_text(const Correction& c, const Voice& v) {
  if (c.outline.size() < 3) return "";
  Messages corners;
  Vec3 last = Vec3::Constant(1e9);
  for (const Vec3& p : c.outline) {
    if ((p - last).norm() < kEvery) continue;
    corners.push_back(Message("list.plain", {arg::place(p)}));
    last = p;
  }
  return "<p class=\"small\">" +
         told(v, "order.outline-tool-coordinates-about",
              {arg::length(kEvery, 0), arg::message(Message("join.clauses", {corners}))}) +
         "</p>\n";
}

std::string template_text(const Correction& c, const Voice& v) {
  if (c.templates.empty())
    return c.no_template.empty() ? "" : para(rich(v, "order.template-none") + " " + told(v, c.no_template));
  std::vector<std::vector<std::string>> rows{
      heads(v, {"order.template", "order.mark-lies", "order.paper-stretches-up"})};
  for (const auto& t : c.templates)
    rows.push_back(
        {told(v, template_name(c, t)), place(t.origin, v), told(v, "list.plain", {arg::fraction(t.stretch, 2)})});
  return table(rows, told(v, "order.templates-templates-pdf-template"));
}

std::string effect_table(const Effect& a, const Effect& b, double fill_time, const Voice& v) {
  std::vector<std::vector<std::string>> rows{heads(v, {"order.re-computed-effect-all", "order.before", "order.after"})};
  const auto area = [&](const char* name, double Effect::*value) {
    rows.push_back({told(v, name), with_unit(a.*value, D::area, v), with_unit(b.*value, D::area, v)});
  };
  area("order.area-out-tolerance", &Effect::out_of_tolerance_area);
  rows.push_back({told(v, "corrections.greatest-lead-front"), with_time(a.max_lead_s, fill_time, v),
                  with_time(b.max_lead_s, fill_time, v)});
  area("front.dry-area", &Effect::dry_area);
  if (correct::drawn_alike(a, b)) {
    area("order.dry-area-mean-drawn", &Effect::expected_dry_area);
    rows.push_back({told(v, "order.drawn-fillings-trap-air"), percent(a.pocket, 0, v), percent(b.pocket, 0, v)});
  }
  return table(rows);
}

std::string cautions(const CorrectionPlan& p, const Voice& v) {
  const bool filler =
      std::any_of(p.chosen.begin(), p.chosen.end(), [&](int k) { return p.candidates[k].kind == Kind::build_up; });
  return "<section class=\"cautions\">" + heading("cautions", told(v, "proof.cautions")) + "<ul>" +
         items(v, {"order.data-sheets-resin-filler", "order.lifting-upper-half-heavy",
                   "order.vacuum-pressure-relieve-both", "order.dust-grinding-mold-face",
                   "order.styrene-ventilate-keep-ignition"}) +
         (filler ? items(v, {"order.peroxide-measure-data-sheet"}) : "") +
         items(v, {"order.depths-places-were-computed"}) + "</ul></section>\n";
}

/// All chosen corrections in one table, what is left as it is, and what to do afterwards.
std::string overview(const Inspection& r, const Voice& v) {
  const CorrectionPlan& p = r.plan;
  const double fill_time = r.nominal_filling.fill_time;
  std::vector<std::vector<std::string>> rows{
      heads(v, {"", "corrections.do-this", "order.hours", "order.area-out-tolerance", "corrections.greatest-lead",
                "fleet.trapped-air", "order.done-date"})};
  double hours = 0;
  if (!r.verdict.covered)
    rows.push_back({"<b>" + told(v, "order.scan-again") + "</b>",
                    "<div class=\"do\">" + told(v, conformity::scan_first(r.verdict, true)) + "</div>", "–", "–", "–",
                    "–", "<span class=\"done\"></span>"});
  for (std::size_t k = 0; k < p.chosen.size(); ++k) {
    const Correction& c = p.candidates[p.chosen[k]];
    const Effect &before = k ? p.after_each[k - 1] : p.now, &after = p.after_each[k];
    hours += c.effort;
    rows.push_back(
        {std::to_string(k + 1) + ". <b>" + own(c.name) + "</b><br>" + told(v, word_of(c.kind)),
         "<div class=\"do\">" + told(v, c.instruction) + "</div>", fixed(c.effort, 1, v),
         spelt(shown(before.out_of_tolerance_area, D::area, v.units), v) + " → " +
             with_unit(after.out_of_tolerance_area, D::area, v),
         with_time(before.max_lead_s, fill_time, v) + " → " + with_time(after.max_lead_s, fill_time, v),
         correct::drawn_alike(before, after) ? percent(before.pocket, 0, v) + " → " + percent(after.pocket, 0, v) : "–",
         "<span class=\"done\"></span>"});
  }
  std::string out = table(rows, told(v, "order.about-hours-all-effort", {arg::number(hours, 1)})) +
                    para(told(v, p.remains)) + against_opening(r, v);
  for (const auto& l : p.left) out += para(told(v, l));
  const MaterialUse& m = r.material_after;
  std::vector<Argument> masses{arg::mass(m.resin.g), arg::mass(m.resin.U), arg::mass(m.glass.g), arg::mass(m.glass.U)};
  const bool lost = m.waste + m.hose > 0;
  if (lost) masses.push_back(arg::mass(m.waste + m.hose));
  out += para(told(v, lost ? "optimiser.each-part-takes" : "optimiser.each-part-takes-only", masses));
  return out + para(rich(v, "order.afterwards-scan-both-halves"));
}

std::string signature(const Voice& v) {
  std::string out;
  for (const char* id : {"bench.done-by", "bench.checked-by", "bench.sign-date"})
    out += "<span>" + told(v, id) + " <span class=\"done\"></span></span>";
  return "<p class=\"sign\">" + out + "</p>";
}

/// What to scan again before any other work, and where that is.
std::string scan_work(const Inspection& r, const Voice& v) {
  if (r.verdict.covered) return "";
  return "<section class=\"work\" id=\"scan\"><h2>" + told(v, "order.scan-again") + "</h2>\n" + scan_first(r, true, v) +
         para(told(v, "order.scan-whole-half")) + "<div class=\"pair\">" + scan_sketch(r, false) +
         scan_sketch(r, true) + "</div>\n" + signature(v) + "</section>\n";
}

/// One correction: its place, its steps, what to check, templates and what it does.
std::string work(const Inspection& r, std::size_t k, const Voice& v) {
  const CorrectionPlan& p = r.plan;
  const Correction& c = p.candidates[p.chosen[k]];
  const std::string title = told(v, "list.named", {arg::name(c.name), arg::message(work_words(c))});
  std::string out = "<section class=\"work\" id=\"" + escape(c.name) + "\"><h2 translate=\"no\">" +
                    std::to_string(k + 1) + ". " + title + "</h2>\n" + para(told(v, c.instruction)) +
                    (has_place(c.kind) ? para(told(v, bench_words(c))) : "") +
                    (c.face == "port" ? para(told(v, "order.port-either-half")) : "");
  if (!c.why.empty() && c.kind == Kind::shim)
    out += para(told(v, full_sentence({Message("list.named", {arg::name(c.name), arg::message(c.why)})})));
  const std::string how = "<div><h3>" + told(v, "order.steps") + "</h3><ol>" + step_items(c, v) + "</ol></div>",
                    check = "<div>" + checks(c, p.shop_step, v) + "</div>", depths = depth_sketches(r, c);
  const auto pair = [](const std::string& left, const std::string& right) {
    return "<div class=\"pair\">" + left + right + "</div>\n";
  };
  const std::string middle = "<div>" + place_table(c, v) + "</div>", size = "<div>" + size_table(c, v) + "</div>";
  if (!has_place(c.kind))
    out += size + pair(how, check);
  else if (c.kind == Kind::shim)
    out += pair(place_sketch(r, c), how) + shim_table(c, v) + check;
  else if (depths.empty())
    out += pair(place_sketch(r, c), "<div>" + place_table(c, v) + size_table(c, v) + "</div>") + stop_table(c, v) +
           pair(how, check);
  else
    out += pair(place_sketch(r, c), depths) + pair(middle, size) + stop_table(c, v) + pair(how, check);
  return out + template_text(c, v) + signature(v) + "</section>\n";
}

/// Of the mold as the order leaves it.
std::string stop_pump(const Inspection& r, const Voice& v) {
  const Opening& o = r.filling_after.opening;
  return o.force.margin() >= 0 && o.held.margin() < 0 && !(r.plan.after.gel_fraction > 1)
             ? para(rich(v, "clamping.stop-pump-when-mold"))
             : "";
}

/// What the bench does not need: outlines in numbers, and what each step was computed to do.
std::string numbers(const Inspection& r, const Voice& v) {
  const CorrectionPlan& p = r.plan;
  std::string out;
  for (std::size_t k = 0; k < p.chosen.size(); ++k) {
    const Correction& c = p.candidates[p.chosen[k]];
    out += "<h3 translate=\"no\">" + own(c.name) + "</h3>\n" + outline_text(c, v) +
           effect_table(k ? p.after_each[k - 1] : p.now, p.after_each[k], r.nominal_filling.fill_time, v);
  }
  return out.empty() ? out
                     : "<section class=\"work\"><h2>" + told(v, "bench.numbers") + "</h2>\n" + out + "</section>\n";
}

std::string effort_section(const CorrectionPlan& p, const Voice& v) {
  std::vector<std::vector<std::string>> rows{heads(v, {"pages.kind", "order.fixed-h", "order.each-station-h",
                                                       "order.per-cm-h", "optimiser.per-part-h", "order.covers"})};
  for (const auto& e : p.effort)
    rows.push_back({told(v, word_of(e.kind)), fixed(e.fixed, 2, v), fixed(e.each, 2, v), fixed(e.per_cm2, 3, v),
                    fixed(e.per_part, 3, v), told(v, e.what)});
  return "<section><h2>" + told(v, "order.effort-table") + "</h2>\n" +
         para(told(v, "order.ranks-corrections-no-quotation")) + table(rows) + "</section>\n";
}

}  // namespace

std::string work_order_html(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const Message title("order.work-order");
  std::string out = "<!doctype html>\n<html lang=\"" + r.job.language +
                    "\"><head><meta charset=\"utf-8\">"
                    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; "
                    "style-src 'unsafe-inline'\">"
                    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title translate=\"no\">" +
                    told(v, "list.named", {arg::message(title), arg::name(r.job.name)}) + "</title>\n<style>\n" +
                    page_css + kCss + paper_css(r) + "</style></head><body>\n<header><h1>" + told(v, title) +
                    "</h1><p>" + own(r.job.name) + "</p><p>" + own(r.job.tool) +
                    (r.job.tool.empty() || r.job.date.empty() ? "" : " · ") + own(r.job.date) + "</p>";
  if (r.job.invented) out += "<p class=\"invented\">" + told(v, "page.invented-data-no-real") + "</p>";
  // By its name the tool is found again in the shop's own lists.
  if (const std::string code = square_code_svg(r.job.tool, told(v, "order.square-code", {arg::name(r.job.tool)}));
      !code.empty())
    out += "<figure class=\"code\">" + code + "<figcaption>" + told(v, "order.code-holds-name") +
           "</figcaption></figure>\n";
  out += photo_of(r) + "</header>\n<main>\n<section>" + outcome_para(r) + open_points(r) + "<h2>" +
         told(v, "order.this-order") + "</h2>\n" + overview(r, v) + stop_pump(r, v) + "</section>\n" +
         cautions(r.plan, v) + scan_work(r, v);
  for (std::size_t k = 0; k < r.plan.chosen.size(); ++k) out += work(r, k, v);
  return out + numbers(r, v) + effort_section(r.plan, v) + "</main></body></html>\n";
}

bool has_work_order(const Inspection& r) {
  return !r.plan.chosen.empty() && !r.doubt && r.outcome.obstacle != Obstacle::stack_cannot_fill &&
         r.outcome.obstacle != Obstacle::reinforcement_holds_open;
}

FileSet work_files(const Inspection& r) {
  if (!has_work_order(r)) return {};
  auto out = template_svgs(r);
  for (auto& file : template_dxfs(r)) out.push_back(std::move(file));
  if (std::string csv = depth_stops_csv(r); !csv.empty()) out.push_back({"depth-stops.csv", std::move(csv)});
  if (std::string pdf = templates_pdf(r); !pdf.empty()) out.push_back({"templates.pdf", std::move(pdf)});
  out.push_back({"work-order.html", work_order_html(r)});
  return out;
}

}  // namespace gapfront::report
