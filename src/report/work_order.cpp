// work-order.html: what a tool-maker takes to the mold. Print first.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/language.hpp"
#include "report/templates.hpp"
#include "report/work_sketches.hpp"
#include "units/words.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

constexpr const char* kCss = R"(
.work { break-before: page; }
.work .sketch svg { max-height: 26rem; }
.rim { fill: none; stroke: #5a6670; stroke-width: 1; }
.tape { stroke: #1d5c85; stroke-width: 1.2; stroke-dasharray: 5 3; fill: none; }
.level { fill: none; stroke: #6b93ab; stroke-width: .8; }
.stop, .axis { stroke: #111; stroke-width: .8; fill: none; }
.name { fill: #111; stroke: #fff; stroke-width: 3; paint-order: stroke; }
.small { font-size: .82rem; color: var(--soft); overflow-wrap: anywhere; }
.done { border-bottom: 1px solid var(--ink); display: inline-block; min-width: 12rem; height: 1.4rem; }
ol li { margin: .15rem 0; }
@media print { .work:first-of-type { break-before: auto; } }
)";

std::string numbered(const std::vector<const char*>& items) {
  std::string out = "<ol>";
  for (const char* i : items) out += std::string("<li>") + i + "</li>";
  return out + "</ol>\n";
}

std::vector<const char*> steps(Kind kind) {
  switch (kind) {
    case Kind::shim:
      return {"Relieve vacuum and pressure, open the mold, block the upper half.",
              "Clean the flange and both faces of every shim at each station in the table.",
              "Change the stacks as the table says, thickest shim at the bottom. A stack is measured, not added up.",
              "Close without resin. At each station that should carry, a 0.02 mm (0.0008 in) feeler must not enter; "
              "where the table "
              "gives a clearance, it must.",
              "See that dowels and guides enter without force, then measure the gap again."};
    case Kind::build_up:
      return {
          "Find the middle by the tapes, lay the template on it as it says, and draw the outline and the feathered "
          "edge.",
          "Degrease. Key the face inside the feathered edge with abrasive paper, as the filler's data sheet asks.",
          "Mix the filler by its data sheet and lay it on a little proud of the thicknesses in the table.",
          "Let it cure through. Work it down to the depth stops, then fair it out to nothing at the feathered edge.",
          "Check the thickness at the places in the table, seal, polish, and renew the release agent.",
          "Measure the gap again before making a part."};
    case Kind::relief:
      return {
          "Find the middle by the tapes, lay the template on it as it says, and draw the outline and the feathered "
          "edge.",
          "Make sure that the tool's skin is thicker than the greatest depth in the table by what it must keep. If it "
          "is not, stop and ask.",
          "Drill or grind depth stops at the places in the table, to the depths there.",
          "Grind down to the stops, then fair the face out to nothing at the feathered edge.",
          "Seal, polish, and renew the release agent.",
          "Measure the gap again before making a part."};
    case Kind::reinforcement_patch:
      return {"Cut the patch by the template, ply by ply, in every part.",
              "Lay it inside the outline, on the side and in the order that the laminate plan asks.",
              "Take the first part off and check glass and resin there before going on."};
    case Kind::radius_packing:
      return {"Cut the roving to length and weigh it for one part.",
              "Lay it into the radius along the outline, evenly.",
              "Take the first part off and check glass and resin there before going on."};
    case Kind::overlap_cut:
    case Kind::filling_ply:
    case Kind::other_stack:
      return {"Change the cutting plan and the lay-up sheet.",
              "Lay one part by them, and close the mold without resin: it must close on its flange without force.",
              "Take the first part off and check glass and resin there before going on."};
    case Kind::vent_enlarge:
      return {"Make sure that nothing lies behind the face there that a cutter could meet.",
              "Open the mouth on the face to the width in the instruction, and break its edge.",
              "Close, pull the vacuum and check for leaks.",
              "Fill the first part slowly and watch the last point to fill."};
    case Kind::vent_add:
      return {"Make sure that nothing lies behind the new place that a drill could meet.",
              "Drill and fit the port at the new place.", "Close, pull the vacuum and check for leaks.",
              "Fill the first part slowly and watch the last point to fill."};
    case Kind::vent_move:
    case Kind::inlet_move:
      return {"Make sure that nothing lies behind the new place that a drill could meet.",
              "Plug the old hole flush and seal it.", "Drill and fit the port at the new place.",
              "Close, pull the vacuum and check for leaks.",
              "Fill the first part slowly and watch the last point to fill."};
  }
  return {};
}

/// As the instruction has it: a hundredth of a millimetre, and a place more for stock that needs it.
std::string shim_words(double mm, UnitSystem u) {
  const bool fine = std::abs(100 * mm - std::round(100 * mm)) > 1e-6;
  return spoken_length(mm, fine ? 3 : 2, u) + " " + length_unit(u);
}

std::string shim_table(const Correction& c, UnitSystem u) {
  std::vector<std::vector<std::string>> rows{
      {"station", "place", "change", "new stack, bottom first", "will stand clear"}};
  for (const auto& s : c.shims) {
    std::string stack;
    for (const double t : s.stack) stack += (stack.empty() ? "" : " + ") + shim_words(t, u);
    if (s.relief > 0) stack = "none; take " + shim_words(s.relief, u) + " off the flange";
    if (stack.empty()) stack = "none";
    rows.push_back({"<b>" + own(s.station) + "</b>", place(s.at, u), s.change == 0 ? "none" : shim_words(s.change, u),
                    stack, s.carries_gap > 0.02 ? shim_words(s.carries_gap, u) : "no"});
  }
  return table(rows, "Stacks by station");
}

std::string place_table(const Correction& c, UnitSystem u) {
  std::vector<std::vector<std::string>> rows{{"the middle of the work", ""}, {"tool coordinates", place(c.centre, u)}};
  for (const auto& t : c.tape) {
    const std::string from = escape(t.from);
    rows.push_back({t.way == Way::straight     ? "straight through free air from " + from
                    : t.way == Way::along_edge ? "along the edge of the moulding face from " + from
                    : from.compare(0, 4, "edge") == 0 || from.compare(0, 9, "the place") == 0
                        ? "squarely in, pressed to the face, from " + from
                        : "over the surface, pressed to the face, from " + from,
                    by_tape(t.distance, u)});
  }
  std::string out = table(rows);
  if (!c.tape_side.empty())
    out += para("The two lengths meet in several places: it is the one farthest towards tool " + escape(c.tape_side) +
                ".");
  if (c.tape.empty()) out += para("No tape finds this place well: mark it by the tool coordinates.");
  return out;
}

std::string size_table(const Correction& c, UnitSystem u) {
  std::vector<std::vector<std::string>> rows{{"size", ""}};
  if (c.area > 0) rows.push_back({"area inside the outline", with_unit(c.area, D::area, u)});
  if (c.peak > 0 && (c.kind == Kind::build_up || c.kind == Kind::relief))
    rows.push_back({"greatest thickness", depth_number(c.peak, u) + "\u00a0" + depth_unit(u)});
  if (c.volume > 0) rows.push_back({"volume", with_unit(c.volume, D::volume, u)});
  if (c.blend > 0) rows.push_back({"feathered out over", by_tape(c.blend, u)});
  if (c.mass > 0)
    rows.push_back({c.kind == Kind::build_up ? "filler to mix, waste included" : "glass in every part",
                    escape(format_mass(c.mass, u))});
  return rows.size() > 1 ? table(rows) : "";
}

std::string stop_table(const Correction& c, UnitSystem u) {
  if (c.stops.empty()) return "";
  std::vector<std::vector<std::string>> rows{{"no.", "place", c.kind == Kind::build_up ? "to add" : "to take"}};
  for (const auto& s : c.stops)
    rows.push_back({std::to_string(s.number), place(s.at, u), depth_number(s.depth, u) + "\u00a0" + depth_unit(u)});
  return table(rows, "Depth stops: number 1 is the deepest place, the others lie on a grid of the tool coordinates");
}

/// What to check before the first cut and after the last.
std::string checks(const Correction& c, double step, UnitSystem u) {
  const bool hand = c.kind == Kind::build_up || c.kind == Kind::relief;
  std::string out;
  if (!c.tape.empty())
    out += "<li>Before: measure both lengths a second time from the other end of the tape; they must agree within " +
           by_tape(2, u) + ".</li>";
  if (!c.templates.empty() &&
      std::any_of(c.templates.begin(), c.templates.end(), [](const auto& t) { return !t.rays.empty(); }))
    out +=
        "<li>Before: lay the template with its mark on the middle; the lines on it must point to what they name.</li>";
  if (hand)
    out += std::string("<li>Before: a straight-edge or gauge must show the face too ") +
           (c.kind == Kind::build_up ? "low" : "high") + " there. If it does not, stop and ask.</li>";
  if (hand && step > 0)
    out += "<li>After: gauge every numbered place; each must be within " + depth_number(step, u) + "\u00a0" +
           depth_unit(u) + " of the table.</li>";
  out += "<li>After: scan both halves again before making a part.</li>";
  return "<h3>Checks</h3><ul>" + out + "</ul>\n";
}

// Corners of an outline in text, mm: nearer ones nobody marks by tape.
constexpr double kEvery = 10;

std::string outline_text(const Correction& c, UnitSystem u) {
  if (c.outline.size() < 3) return "";
  std::string out = "<p class=\"small\">Outline in tool coordinates, about every " + spoken_length(kEvery, 0, u) + " " +
                    length_unit(u) + ": ";
  Vec3 last = Vec3::Constant(1e9);
  for (const Vec3& p : c.outline) {
    if ((p - last).norm() < kEvery) continue;
    out += (last.x() < 1e8 ? "; " : "") + place(p, u);
    last = p;
  }
  return out + ".</p>\n";
}

std::string template_text(const Inspection& r, const Correction& c) {
  const UnitSystem u = r.job.units;
  if (c.templates.empty()) return c.no_template.empty() ? "" : para("<b>Template:</b> none. " + told(r, c.no_template));
  std::vector<std::vector<std::string>> rows{{"template", "the mark lies at", "paper stretches by up to"}};
  for (const auto& t : c.templates)
    rows.push_back({escape(t.name), place(t.origin, u), fixed(100 * t.stretch, 2) + " %"});
  return table(rows,
               "Templates at 1:1, in templates.pdf and as template-*.svg. Print at 100 % and measure the bar first");
}

std::string effect_table(const Effect& a, const Effect& b, double fill_time, UnitSystem u) {
  std::vector<std::vector<std::string>> rows{
      {"re-computed effect, with all work before it", "before", "after"},
      {"area out of tolerance", with_unit(a.out_of_tolerance_area, D::area, u),
       with_unit(b.out_of_tolerance_area, D::area, u)},
      {"greatest lead of the front", with_time(a.max_lead_s, fill_time), with_time(b.max_lead_s, fill_time)},
      {"dry area", with_unit(a.dry_area, D::area, u), with_unit(b.dry_area, D::area, u)}};
  if (correct::drawn_alike(a, b))
    rows.push_back({"dry area, mean of the drawn fillings", with_unit(a.expected_dry_area, D::area, u),
                    with_unit(b.expected_dry_area, D::area, u)});
  return table(rows);
}

/// Words of the program's own table have entries in the catalogue, words of the job's have none.
bool is_default(const Effort& e) {
  const auto table = correct::default_effort();
  return std::any_of(table.begin(), table.end(), [&](const Effort& d) { return d.what == e.what; });
}

std::string cautions(const CorrectionPlan& p) {
  const bool filler =
      std::any_of(p.chosen.begin(), p.chosen.end(), [&](int k) { return p.candidates[k].kind == Kind::build_up; });
  return std::string(
             "<section class=\"cautions\"><h2 id=\"cautions\">Cautions</h2><ul>"
             "<li>The data sheets of resin, filler and release agent, local codes and the shop's own rules come first; "
             "where "
             "they differ from this order, follow them.</li>"
             "<li>Lifting: the upper half is heavy. Rated gear, supported and blocked before anyone reaches under "
             "it.</li>"
             "<li>Vacuum and pressure: relieve both and see the gauge at zero before loosening a clamp.</li>"
             "<li>Dust: grinding a mold face frees glass and silica. Extract at the tool, wear a fitted respirator and "
             "goggles, and keep others away.</li>"
             "<li>Styrene: ventilate, keep ignition away, and wear the gloves that the data sheet names.</li>") +
         (filler
              ? "<li>Peroxide: measure it by the data sheet, never let it meet accelerator directly, keep it off "
                "eyes and skin, and keep rags with it in water. Thick filler heats as it cures: lay it in layers.</li>"
              : "") +
         "<li>Depths and places were computed from scans: check the first of each with a gauge before working the "
         "rest.</li></ul></section>\n";
}

}  // namespace

std::string work_order_html(const Inspection& r, std::vector<std::string>* untranslated) {
  using namespace report;
  Language language(r.job.language);
  const UnitSystem u = r.job.units;
  const CorrectionPlan& p = r.plan;
  std::string out =
      "<!doctype html>\n<html lang=\"" + r.job.language +
      "\"><head><meta charset=\"utf-8\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title translate=\"no\">" +
      escape(language.say("Work order") + ": " + r.job.name) + "</title>\n<style>\n" + page_css + kCss +
      "</style></head><body>\n<header><h1>Work order</h1><p>" + own(r.job.name) + "</p><p>" + own(r.job.tool) +
      (r.job.date.empty() ? "" : " · " + own(r.job.date)) + "</p>";
  if (r.job.invented) out += "<p class=\"invented\">Invented data: no real tool, no real part.</p>";
  out += "</header>\n<main>\n<section>" + outcome_para(r) + open_points(r) + "<h2>In this order</h2>\n";
  std::vector<std::vector<std::string>> rows{
      {"", "do this", "hours", "area out of tolerance", "greatest lead", "done by, date"}};
  double hours = 0;
  const double fill_time = r.nominal_filling.fill_time;
  for (std::size_t k = 0; k < p.chosen.size(); ++k) {
    const Correction& c = p.candidates[p.chosen[k]];
    const Effect &before = k ? p.after_each[k - 1] : p.now, &after = p.after_each[k];
    hours += c.effort;
    rows.push_back(
        {std::to_string(k + 1) + ". <b>" + escape(c.name) + "</b><br>" + to_string(c.kind),
         "<div class=\"do\">" + told(r, c.instruction) + "</div>", fixed(c.effort, 1),
         shown(before.out_of_tolerance_area, D::area, u) + " → " + with_unit(after.out_of_tolerance_area, D::area, u),
         with_time(before.max_lead_s, fill_time) + " → " + with_time(after.max_lead_s, fill_time),
         "<span class=\"done\"></span>"});
  }
  out += table(rows, "About " + fixed(hours, 1) + " hours in all, by the effort table below; effects are re-computed");
  out += para(told(r, p.remains));
  for (const auto& l : p.left) out += para(told(r, l));
  out += para(
      "Afterwards scan both halves again and run: <code>gapfront inspect JOB --expects result.json</code>, with the "
      "result.json of this order. It says whether each correction did what is predicted here.");
  out += "</section>\n" + cautions(p);
  for (std::size_t k = 0; k < p.chosen.size(); ++k) {
    const Correction& c = p.candidates[p.chosen[k]];
    out += "<section class=\"work\"><h2 translate=\"no\">" + std::to_string(k + 1) + ". " + escape(c.name) + ": " +
           language.say(work_words(c)) + "</h2>\n" + para(told(r, c.instruction)) + para(bench_words(c));
    if (!c.why.empty() && c.kind == Kind::shim)
      out += para(told(r, full_sentence({Message("list.named", {arg::name(c.name), arg::message(c.why)})})));
    out += "<div class=\"pair\">" + place_sketch(r, c) + "<div>" +
           (c.kind == Kind::shim ? shim_table(c, u) : place_table(c, u) + size_table(c, u)) + "</div></div>\n";
    out += "<h3>Steps</h3>" + numbered(steps(c.kind));
    out += checks(c, p.shop_step, u);
    out += depth_sketches(r, c) + stop_table(c, u) + template_text(r, c) + outline_text(c, u);
    out += effect_table(k ? p.after_each[k - 1] : p.now, p.after_each[k], fill_time, u) + "</section>\n";
  }
  rows = {{"kind", "fixed, h", "each station, h", "per cm², h", "covers"}};
  for (const auto& e : p.effort)
    rows.push_back({to_string(e.kind), fixed(e.fixed, 2), fixed(e.each, 2), fixed(e.per_cm2, 3),
                    is_default(e) ? escape(e.what) : own(e.what)});
  out += "<section><h2>The effort table</h2>\n" +
         para("It ranks corrections and is no quotation. Put your own hours in the job file: [[correct.effort]].") +
         table(rows) + "</section>\n";
  out = language.page(out + "</main></body></html>\n");
  if (untranslated) untranslated->insert(untranslated->end(), language.missing().begin(), language.missing().end());
  return out;
}

std::vector<std::pair<std::string, std::string>> work_files(const Inspection& r,
                                                            std::vector<std::string>* untranslated) {
  // A doubt, or a stack that work on the gap cannot help, has no instructions; a layout that traps air has: its ports.
  if (r.plan.chosen.empty() || r.doubt || r.outcome.obstacle == Obstacle::stack_cannot_fill ||
      r.outcome.obstacle == Obstacle::reinforcement_holds_open)
    return {};
  report::Language language(r.job.language);
  auto out = report::template_svgs(r, language);
  if (std::string pdf = report::templates_pdf(r, language); !pdf.empty())
    out.push_back({"templates.pdf", std::move(pdf)});
  if (untranslated) untranslated->insert(untranslated->end(), language.missing().begin(), language.missing().end());
  out.push_back({"work-order.html", work_order_html(r, untranslated)});
  return out;
}

}  // namespace gapfront::report
