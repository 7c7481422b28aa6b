// Does the mold close, stay shut, and keep its shape? And how fast may it be filled?
#include <algorithm>
#include <cctype>
#include <cmath>

#include "gapfront/process_words.hpp"
#include "gapfront/report.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

/// Number and unit not to be parted at a line's end.
std::string force(double f, UnitSystem u) {
  if (!std::isfinite(f)) return "–";
  std::string text = format_force(f, u);
  if (const auto space = text.rfind(' '); space != std::string::npos) text.replace(space, 1, "\u00a0");
  if (text[0] == '-') text.replace(0, 1, "−");
  return escape(text);
}
std::string times(double v) { return std::isfinite(v) ? fixed(v, v < 9.995 ? 2 : 0) : "–"; }

std::string node_place(const Inspection& r, int node) {
  return node >= 0 && node < static_cast<int>(r.sheet.size()) ? place(r.sheet.mesh.points[node], r.job.units) : "–";
}

std::string closing_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Closing &now = r.closing, &nominal = r.nominal_closing;
  if (!(now.area > 0)) return "";
  const auto row = [&](const char* what, auto show) {
    return std::vector<std::string>{what, show(nominal), show(now)};
  };
  return table({{"closing on dry glass", "nominal gap", "measured gap"},
                row("closing force", [&](const Closing& c) { return force(c.closing, u); }),
                row("push of the glass", [&](const Closing& c) { return force(c.reinforcement, u); }),
                row("share of the closing force that the glass takes",
                    [&](const Closing& c) { return with_unit(c.reinforcement / c.closing, D::fraction, u); }),
                row("a rigid upper half stands off by", [&](const Closing& c) {
                  return c.closes() ? std::string("nothing") : with_unit(c.stands_open, D::length, u);
                })});
}

std::string packed_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  if (r.closing.regions.empty()) return "";
  std::vector<std::vector<std::string>> rows{{"over-packed at", "area", "push of the glass", "share of all"}};
  for (const auto& g : r.closing.regions)
    rows.push_back(
        {place(g.centre, u), with_unit(g.area, D::area, u), force(g.load, u), with_unit(g.fraction, D::fraction, u)});
  return table(rows, "Where the glass is squeezed harder than the clamping there, largest push first");
}

std::string opening_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Opening& o = r.filling.opening;
  if (o.history.empty()) return "";
  std::vector<std::vector<std::string>> rows{
      {"when", "time", "closing force", "opening force", "closing / opening force", "least local margin", "where"}};
  const auto row = [&](const char* when, const OpeningSample& s) {
    rows.push_back({when, with_time(s.time, r.nominal_filling.fill_time), force(s.closing, u), force(s.opening, u),
                    times(s.safety()), with_unit(s.minimum, D::pressure, u), node_place(r, s.node)});
  };
  row("vacuum on, no resin", o.dry);
  row("force balance at its tightest", o.force);
  row("least local margin", o.place);
  row("filled, pump not stopped", o.held);
  std::string out = table(rows, "What holds the mold shut against what pushes it open, measured gap");
  const double unit = u == UnitSystem::inch ? 4.4482216152605e6 : 1e9;
  Curve closes{Message("clamping.closing-force"), {}, false}, opens{Message("clamping.opening-force"), {}, true};
  for (const auto& s : o.history) {
    closes.points.emplace_back(s.time, s.closing / unit);
    opens.points.emplace_back(s.time, s.opening / unit);
  }
  out += line_chart(voice_of(r.job), Message("clamping.forces-upper-half"), u == UnitSystem::inch ? "lbf" : "kN",
                    {closes, opens});
  if (o.force.margin() >= 0 && o.held.margin() < 0)
    out += para(
        "<b>Stop the pump when the mold is full:</b> with the inlet's last pressure in the whole cavity it opens.");
  return out +
         para(
             "Two things are named here. The <b>force balance</b> is of the whole mold: all that closes it against "
             "all that opens it. It decides whether the mold opens.") +
         para(
             "The <b>local margin</b> is of one place: pressure from outside less resin and glass. Where it is "
             "negative "
             "a light half lifts off the glass; a rigid half that is held at its rim does not. The vacuum counts only "
             "where resin has not come yet.");
}

std::string zone_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  std::vector<std::vector<std::string>> rows{{"glass in zone", "area", "under-filled", "over-packed",
                                              "glass by weight out of its window", "push of the glass",
                                              "by volume, least – mean – greatest", "by weight, mean"}};
  for (const auto& z : r.laminate.zones) {
    if (!(z.area > 0)) continue;
    const auto fraction = [&](double v) { return with_unit(v, D::fraction, u); };
    const char* rest = r.laminate.zones.size() > 1 ? "(in no zone)" : "everywhere";
    rows.push_back(
        {z.name.empty() ? rest : own(z.name), with_unit(z.area, D::area, u), with_unit(z.under_filled, D::area, u),
         with_unit(z.over_packed, D::area, u), with_unit(z.weight_out, D::area, u), force(z.load, u),
         fraction(z.vf_min) + " – " + fraction(z.vf_mean) + " – " + fraction(z.vf_max), fraction(z.weight_mean)});
  }
  return rows.size() > 1 ? table(rows, "The glass, zone by zone") : "";
}

std::string source_table(const Inspection& r) {
  std::vector<std::vector<std::string>> rows{{"glass", "plies", "zone", "where its numbers are from"}};
  const auto add = [&](const std::string& zone, const std::vector<Ply>& plies) {
    for (const auto& p : plies)
      rows.push_back({own(p.reinforcement.name), fixed(p.count, p.count == std::round(p.count) ? 0 : 1),
                      zone.empty() ? "everywhere" : own(zone),
                      "<div class=\"do\">" + escape(p.reinforcement.source) + "</div>"});
  };
  add("", r.job.laminate.plies);
  for (const auto& z : r.job.laminate.zones) add(z.name, z.plies);
  if (rows.size() == 1) return "";
  std::string out = table(rows, "Whose numbers the glass is computed with");
  const bool memory = std::any_of(rows.begin(), rows.end(),
                                  [](const auto& row) { return row.back().find("from memory") != std::string::npos; });
  if (memory)
    out += para(
        "Built-in numbers that are from memory are starting values, no data of your glass: measure what you use, "
        "and give it in [[laminate.ply]].");
  return out;
}

std::string breathing_part(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Breathing& b = r.breathing;
  if (!b.computed)
    return para(
        "The upper half is taken as rigid: the job declares no stiffness ([[closing.half]]). A scan made open "
        "does not show how a light half breathes.");
  std::vector<std::vector<std::string>> rows{
      {"upper half, against its shape as scanned", "most inwards", "at", "most outwards", "at"}};
  const auto row = [&](const char* when, const BreathingState& s) {
    rows.push_back({when, with_unit(s.minimum, D::length, u), node_place(r, s.min_node),
                    with_unit(s.maximum, D::length, u), node_place(r, s.max_node)});
  };
  row("vacuum on, no resin", b.dry);
  row("mean of the fill", b.filling);
  row("when the margin is least", b.worst);
  std::string out = table(rows, "How the upper half breathes");
  std::string changes;
  for (double c : b.changes) changes += (changes.empty() ? "" : ", ") + fixed(1e3 * c, 1);
  out +=
      para((b.converged ? "The coupled computation settled; greatest change of the gap per round, µm: "
                        : "<b>The coupled computation did not settle</b>; greatest change of the gap per round, µm: ") +
           changes + ".");
  std::vector<std::vector<std::string>> fills{
      {"the fill with the half in one shape", "fill time", "front earlier by up to", "later by up to", "dry area"}};
  const auto fill = [&](const char* shape, const ShapeFill& s) {
    fills.push_back({shape, with_time(s.fill_time, r.nominal_filling.fill_time),
                     with_time(s.earlier, r.nominal_filling.fill_time), with_time(s.later, r.nominal_filling.fill_time),
                     with_unit(s.dry_area, D::area, u)});
  };
  fills.push_back({"mean of the fill: what this report is computed with",
                   with_time(r.filling.fill_time, r.nominal_filling.fill_time), "–", "–",
                   with_unit(flow::dry_area(r.filling), D::area, u)});
  fill("as scanned, as if it were rigid", b.as_scanned);
  fill("vacuum on, no resin", b.at_dry);
  fill("when the margin is least", b.at_worst);
  out += table(fills, "What the breathing does to the front");
  out += para(
      "While the mold fills, the half moves from the shape with the vacuum on towards the one at the least margin. One "
      "shape is taken for the whole fill; those two show how far the arrival may be off by that.");
  out += para(
      "Fronts, lead, probabilities, opening margin, schedules and the effect of corrections on the front are computed "
      "with the gap under vacuum and resin. Verdict, deviation, closing on dry glass and the maps of the glass are "
      "about the gap as scanned.");
  return out + para(
                   "A mold is made and checked open, so nominal is meant as scanned, and a true mold breathes as "
                   "well: filled, it takes " +
                   with_time(r.nominal_filling.fill_time, r.nominal_filling.fill_time) + "; if it were rigid, " +
                   with_time(r.nominal_breathing.as_scanned.fill_time, r.nominal_filling.fill_time) +
                   ". The lead is what this mold's errors do beyond that.");
}

/// Clauses as paragraphs of their own.
std::string clauses(const Inspection& r, const Messages& said) {
  std::string out;
  for (const Message& m : said) {
    std::string s = say(m, voice_of(r.job));
    s[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(s[0])));
    out += para(own(s + "."));
  }
  return out;
}

/// What would hold it shut; that it opens, the sentence above has said.
std::string opening_help(const Inspection& r) {
  auto said = pipeline::opening_words(r);
  if (!said.empty()) said.erase(said.begin());
  return clauses(r, said);
}

std::string schedule_table(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const ProcessAdvice& a = r.advice;
  std::vector<std::vector<std::string>> rows{{"from, injected", "rate"}};
  for (const auto& s : a.steps)
    rows.push_back({s.from > 0 ? fixed(s.from / 1e6, s.from < 1e6 ? 3 : 1) + " L" : "the start",
                    with_unit(s.rate, D::flow_rate, u)});
  const std::string hold = with_unit(a.pressure_limit, D::pressure, u);
  return table(rows, a.bound_by_opening
                         ? "Advised flow schedule: it keeps the mold shut, which is the tighter limit, and the inlet "
                           "under its pressure limit"
                         : "Advised flow schedule: it keeps the inlet under its pressure limit all the way") +
         para(a.pressure_limit >= 0
                  ? "Set the pump to hold " + hold +
                        " above atmosphere at the most: at the end, where the front closes on the vent, it goes over "
                        "to that pressure by itself."
                  : "Keep the inlet at least " + with_unit(-a.pressure_limit, D::pressure, u) +
                        " below atmosphere: more opens the mold before it is full.");
}

std::string advice_part(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const ProcessAdvice& a = r.advice;
  std::string out = clauses(r, pipeline::schedule_words(r));  // what is wrong with the advice comes before it
  if (a.mode == PumpMode::none) return out;
  if (a.mode == PumpMode::rates)
    out += schedule_table(r);
  else if (a.pressure_limit >= 0)
    out += para("<b>Advised: one pressure.</b> Set the pump to hold " + with_unit(a.pressure_limit, D::pressure, u) +
                " above atmosphere from the start: any rate it can be set to is at that limit almost at once.");
  else
    out += para("Keep the inlet at least " + with_unit(-a.pressure_limit, D::pressure, u) +
                " below atmosphere: more opens the mold before it is full.");
  // A tenth: see almost_at_once in advice.cpp.
  if (a.own.rate_set && a.own.limit_from < 0.1)
    out += para(
        "With your schedule the pump stands at its pressure limit almost from the start: what flows follows "
        "the pressure, not the rate that is set.");
  const auto line = [&](const char* what, double own, double advised, auto show) {
    return std::vector<std::string>{what, show(own), show(advised)};
  };
  const auto pressure = [&](double v) { return with_unit(v, D::pressure, u); };
  return out + table({{"both filled by computation", "your schedule", "advised schedule"},
                      line("fill time", a.own.fill_time, a.advised.fill_time,
                           [&](double v) { return with_time(v, r.nominal_filling.fill_time); }),
                      line("highest inlet pressure, above atmosphere", a.own.peak_pressure, a.advised.peak_pressure,
                           pressure),
                      line("closing force less opening force, least", a.own.min_margin, a.advised.min_margin,
                           [&](double v) { return force(v, u); }),
                      line("closing over opening force, least", a.own.min_safety, a.advised.min_safety, times),
                      line("least local margin", a.own.min_local, a.advised.min_local, pressure),
                      line("dry area", a.own.dry_area, a.advised.dry_area,
                           [&](double v) { return with_unit(v, D::area, u); })});
}

}  // namespace

std::string clamping_sentence(const Inspection& r) {
  const UnitSystem u = r.job.units;
  if (!r.closing.closes())
    return "<b>The mold cannot close:</b> the glass pushes back with " + force(r.closing.reinforcement, u) +
           " against a closing force of " + force(r.closing.closing, u) +
           "; a rigid upper half would stand off by about " + with_unit(r.closing.stands_open, D::length, u) + ".";
  const OpeningSample& f = r.filling.opening.force;
  if (r.filling.opening.history.empty()) return "";
  if (f.margin() < 0)
    return "<b>The mold opens:</b> after " + with_time(f.time, r.nominal_filling.fill_time) +
           " resin and glass push with " + force(f.opening, u) + " against a closing force of " + force(f.closing, u) +
           ".";
  std::string out = "As a whole the mold stays shut: at the tightest, after " +
                    with_time(f.time, r.nominal_filling.fill_time) + ", the closing force is " + force(f.closing, u) +
                    " and the opening force " + force(f.opening, u) + ".";
  const OpeningSample& p = r.filling.opening.place;
  if (p.minimum < 0 && p.node >= 0)
    out +=
        r.breathing.computed
            ? " In places resin and glass press harder than what presses from outside: there the light upper half "
              "lifts off the glass, as the breathing shows."
            : " In places resin and glass press harder than what presses from outside; that opens a light half there, "
              "not a rigid one, as which this half is taken.";
  return out;
}

std::string clamping_section(const Inspection& r) {
  return "<section><h2 id=\"shut\">Does it stay shut?</h2>\n" + para(clamping_sentence(r)) + opening_help(r) +
         closing_table(r) + packed_table(r) + opening_table(r) + zone_table(r) + source_table(r) + breathing_part(r) +
         advice_part(r) + "</section>\n";
}

}  // namespace gapfront::report
