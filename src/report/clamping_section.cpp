// Does the mold close, stay shut, and keep its shape? And how fast may it be filled?
#include <algorithm>
#include <cctype>
#include <cmath>

#include "gapfront/process_words.hpp"
#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "units/inch.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

/// Number and unit not to be parted at a line's end.
std::string force(double f, const Voice& v) {
  if (!std::isfinite(f)) return "–";
  std::string text = say(arg::force(f), v);
  if (const auto space = text.rfind(' '); space != std::string::npos) text.replace(space, 1, "\u00a0");
  return text;
}
std::string times(double x, const Voice& v) { return std::isfinite(x) ? fixed(x, x < 9.995 ? 2 : 0, v) : "–"; }

std::string node_place(const Inspection& r, int node, const Voice& v) {
  return node >= 0 && node < static_cast<int>(r.sheet.size()) ? place(r.sheet.mesh.points[node], v) : "–";
}

std::string closing_table(const Inspection& r, const Voice& v) {
  const Closing &now = r.closing, &nominal = r.nominal_closing;
  if (!(now.area > 0)) return "";
  const auto row = [&](const char* what, auto show) {
    return std::vector<std::string>{told(v, what), show(nominal), show(now)};
  };
  return table({heads(v, {"clamping.closing-dry-glass", "page.nominal-gap", "page.measured-gap"}),
                row("clamping.closing-force", [&](const Closing& c) { return force(c.closing, v); }),
                row("clamping.push-glass", [&](const Closing& c) { return force(c.reinforcement, v); }),
                row("clamping.share-closing-force-glass",
                    [&](const Closing& c) { return with_unit(c.reinforcement / c.closing, D::fraction, v); }),
                row("clamping.rigid-upper-half-stands", [&](const Closing& c) {
                  return c.closes() ? told(v, "clamping.nothing") : with_unit(c.stands_open, D::length, v);
                })});
}

std::string packed_table(const Inspection& r, const Voice& v) {
  if (r.closing.regions.empty()) return "";
  std::vector<std::vector<std::string>> rows{
      heads(v, {"clamping.over-packed", "page.area", "clamping.push-glass", "clamping.share-all"})};
  for (const auto& g : r.closing.regions)
    rows.push_back(
        {place(g.centre, v), with_unit(g.area, D::area, v), force(g.load, v), with_unit(g.fraction, D::fraction, v)});
  return table(rows, told(v, "clamping.where-glass-squeezed-harder"));
}

std::string opening_table(const Inspection& r, const Voice& v) {
  const Opening& o = r.filling.opening;
  if (o.history.empty()) return "";
  std::vector<std::vector<std::string>> rows{
      heads(v, {"clamping.when", "front.time", "clamping.closing-force", "clamping.opening-force",
                "clamping.closing-opening-force", "clamping.least-local-margin", "clamping.where"})};
  const auto row = [&](const char* when, const OpeningSample& s) {
    rows.push_back({told(v, when), with_time(s.time, r.nominal_filling.fill_time, v), force(s.closing, v),
                    force(s.opening, v), times(s.safety(), v), with_unit(s.minimum, D::pressure, v),
                    node_place(r, s.node, v)});
  };
  row("clamping.vacuum-no-resin", o.dry);
  row("clamping.force-balance-tightest", o.force);
  row("clamping.least-local-margin", o.place);
  if (flow::in_time(r.filling, r.job.flow)) row("clamping.filled-pump-not-stopped", o.held);
  std::string out = table(rows, told(v, "clamping.what-holds-mold-shut"));
  const bool pounds = v.units == UnitSystem::inch;
  const double unit = pounds ? 1e6 * pound_force : 1e9;  // Pa·mm² per lbf, per kN
  Curve closes{Message("clamping.closing-force"), {}, false}, opens{Message("clamping.opening-force"), {}, true};
  for (const auto& s : o.history) {
    closes.points.emplace_back(s.time, s.closing / unit);
    opens.points.emplace_back(s.time, s.opening / unit);
  }
  out += line_chart(v, Message("clamping.forces-upper-half"), pounds ? "lbf" : "kN", {closes, opens});
  if (o.force.margin() >= 0 && o.held.margin() < 0 && flow::in_time(r.filling, r.job.flow))
    out += para(rich(v, "clamping.stop-pump-when-mold"));
  return out + para(rich(v, "clamping.two-things-named-here")) + para(rich(v, "clamping.local-margin-one-place"));
}

std::string zone_table(const Inspection& r, const Voice& v) {
  std::vector<std::vector<std::string>> rows{
      heads(v, {"clamping.glass-zone", "page.area", "clamping.under-filled", "clamping.over-packed-2",
                "clamping.glass-weight-out-window", "clamping.push-glass-square", "clamping.volume-least-mean-greatest",
                "clamping.weight-mean"})};
  const auto fraction = [&](double f) { return with_unit(f, D::fraction, v); };
  const char* rest = r.laminate.zones.size() > 1 ? "clamping.no-zone" : "clamping.everywhere";
  for (const auto& z : r.laminate.zones) {
    if (!(z.area > 0)) continue;
    rows.push_back({z.name.empty() ? told(v, rest) : own(z.name), with_unit(z.area, D::area, v),
                    with_unit(z.under_filled, D::area, v), with_unit(z.over_packed, D::area, v),
                    with_unit(z.weight_out, D::area, v), force(z.load, v),
                    fraction(z.vf_min) + " – " + fraction(z.vf_mean) + " – " + fraction(z.vf_max),
                    fraction(z.weight_mean)});
  }
  return rows.size() > 1 ? table(rows, told(v, "clamping.glass-zone-zone")) : "";
}

std::string source_table(const Inspection& r, const Voice& v) {
  std::vector<std::vector<std::string>> rows{
      heads(v, {"clamping.glass", "clamping.plies", "zones.zone", "clamping.where-numbers-from"})};
  bool built_in = false;
  const auto add = [&](const std::string& zone, const std::vector<Ply>& plies) {
    for (const auto& p : plies) {
      built_in = built_in || !p.reinforcement.from_job();
      rows.push_back({own(p.reinforcement.name), fixed(p.count, p.count == std::round(p.count) ? 0 : 1, v),
                      zone.empty() ? told(v, "clamping.everywhere") : own(zone),
                      "<div class=\"do\">" + told(v, in_one_sentence(p.reinforcement.source)) + "</div>"});
    }
  };
  add("", r.job.laminate.plies);
  for (const auto& z : r.job.laminate.zones) add(z.name, z.plies);
  if (rows.size() == 1) return "";
  return table(rows, told(v, "clamping.whose-numbers-glass-computed")) +
         (built_in ? para(told(v, "clamping.built-numbers-from-memory")) : "");
}

std::string breathing_part(const Inspection& r, const Voice& v) {
  const Breathing& b = r.breathing;
  if (!b.computed) return para(told(v, "clamping.upper-half-taken-rigid"));
  const double full = r.nominal_filling.fill_time;
  std::vector<std::vector<std::string>> rows{heads(v, {"clamping.upper-half-against-shape", "clamping.most-inwards",
                                                       "clamping.at", "clamping.most-outwards", "clamping.at"})};
  const auto row = [&](const char* when, const BreathingState& s) {
    rows.push_back({told(v, when), with_unit(s.minimum, D::length, v), node_place(r, s.min_node, v),
                    with_unit(s.maximum, D::length, v), node_place(r, s.max_node, v)});
  };
  row("clamping.vacuum-no-resin", b.dry);
  row("clamping.mean-fill", b.filling);
  row("clamping.when-margin-least", b.worst);
  std::string out = table(rows, told(v, "clamping.how-upper-half-breathes"));
  std::string changes;
  for (double c : b.changes)
    changes += (changes.empty() ? "" : v.language == "en" ? ", " : "; ") + fixed(1e3 * c, 1, v);
  out += para(
      rich(v, b.converged ? "clamping.coupled-computation-settled-greatest" : "clamping.coupled-computation-did-not",
           {arg::name(changes)}));
  std::vector<std::vector<std::string>> fills{
      heads(v, {"clamping.fill-half-one-shape", "page.fill-time", "clamping.front-earlier-up", "clamping.later-up",
                "front.dry-area"})};
  const auto fill = [&](const char* shape, const ShapeFill& s) {
    fills.push_back({told(v, shape), with_time(s.fill_time, full, v), with_time(s.earlier, full, v),
                     with_time(s.later, full, v), with_unit(s.dry_area, D::area, v)});
  };
  fills.push_back({told(v, "clamping.mean-fill-what-this"), with_time(r.filling.fill_time, full, v), "–", "–",
                   with_unit(flow::dry_area(r.filling), D::area, v)});
  fill("clamping.scanned-if-were-rigid", b.as_scanned);
  fill("clamping.vacuum-no-resin", b.at_dry);
  fill("clamping.when-margin-least", b.at_worst);
  return out + table(fills, told(v, "clamping.what-breathing-does-front")) +
         para(told(v, "clamping.while-mold-fills-half")) + para(told(v, "clamping.fronts-lead-probabilities-opening")) +
         para(told(v, "clamping.mold-made-checked-open",
                   {arg::name(with_time(full, full, v)),
                    arg::name(with_time(r.nominal_breathing.as_scanned.fill_time, full, v))}));
}

/// Clauses as paragraphs of their own.
std::string clauses(const Messages& said, const Voice& v) {
  std::string out;
  for (const Message& m : said) {
    std::string s = say(m, v);
    s[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(s[0])));
    out += para(told(v, "list.sentence", {arg::name(s)}));
  }
  return out;
}

/// What would hold it shut; that it opens, the sentence above has said.
std::string opening_help(const Inspection& r, const Voice& v) {
  auto said = pipeline::opening_words(r);
  if (!said.empty()) said.erase(said.begin());
  return clauses(said, v);
}

/// What fills before the resin gels, where nothing that is chosen does.
std::string against_gel(const Inspection& r, const Voice& v) {
  const auto& left = r.plan.not_cured;
  if (std::find(left.begin(), left.end(), Uncured::gel) == left.end() || r.advice.in_time) return "";
  return clauses(pipeline::schedule_words(r), v);
}

std::string pressure_hold(double limit, const Voice& v) {
  return limit >= 0 ? told(v, "clamping.set-pump-hold-above", {arg::name(with_unit(limit, D::pressure, v))})
                    : told(v, "clamping.keep-inlet-least-below", {arg::name(with_unit(-limit, D::pressure, v))});
}

/// What is injected, as it is read off a pump: in litres, or US gallons as its rate is.
std::string pumped(double mm3, const Voice& v) {
  const bool us = v.units == UnitSystem::inch;
  const double n = mm3 / (us ? gallon : 1e6);
  return fixed(n, n < 1 ? 3 : 1, v) + (us ? " gal" : " L");
}

std::string schedule_table(const Inspection& r, const Voice& v) {
  const ProcessAdvice& a = r.advice;
  std::vector<std::vector<std::string>> rows{heads(v, {"front.from-injected", "front.rate"})};
  for (const auto& s : a.steps)
    rows.push_back({s.from > 0 ? pumped(s.from, v) : told(v, "process.start"), with_unit(s.rate, D::flow_rate, v)});
  return table(rows, told(v, a.bound_by_opening ? "clamping.advised-flow-schedule-keeps"
                                                : "clamping.advised-flow-schedule-keeps-inlet")) +
         para(pressure_hold(a.pressure_limit, v));
}

std::string advice_part(const Inspection& r, const Voice& v) {
  const ProcessAdvice& a = r.advice;
  std::string out = clauses(pipeline::schedule_words(r), v);  // what is wrong with the advice comes before it
  if (a.mode == PumpMode::none) return out;
  const auto pressure = [&](double p) { return with_unit(p, D::pressure, v); };
  if (a.mode == PumpMode::rates)
    out += schedule_table(r, v);
  else if (a.pressure_limit >= 0)
    out += para(rich(v, "process.advised-one-pressure-set", {arg::name(pressure(a.pressure_limit))}));
  else
    out += para(pressure_hold(a.pressure_limit, v));
  // A tenth: see almost_at_once in advice.cpp.
  if (a.own.rate_set && a.own.limit_from < 0.1) out += para(told(v, "process.your-schedule-pump-stands"));
  const auto line = [&](const char* what, double own, double advised, auto show) {
    return std::vector<std::string>{told(v, what), show(own), show(advised)};
  };
  return out +
         table({heads(v, {"clamping.both-filled-computation", "clamping.your-schedule", "clamping.advised-schedule"}),
                line("page.fill-time", a.own.fill_time, a.advised.fill_time,
                     [&](double t) { return with_time(t, r.nominal_filling.fill_time, v); }),
                line("clamping.highest-inlet-pressure-above", a.own.peak_pressure, a.advised.peak_pressure, pressure),
                line("clamping.closing-force-less-opening", a.own.min_margin, a.advised.min_margin,
                     [&](double f) { return force(f, v); }),
                line("clamping.closing-over-opening-force", a.own.min_safety, a.advised.min_safety,
                     [&](double s) { return times(s, v); }),
                line("clamping.least-local-margin", a.own.min_local, a.advised.min_local, pressure),
                line("front.dry-area", a.own.dry_area, a.advised.dry_area,
                     [&](double x) { return with_unit(x, D::area, v); })});
}

}  // namespace

std::string against_opening(const Inspection& r, const Voice& v) {
  const auto& left = r.plan.not_cured;
  const std::string gel = against_gel(r, v);
  if (std::find(left.begin(), left.end(), Uncured::opening) == left.end() || r.advice.help.changes.empty() ||
      pipeline::changes_opening(r.plan))
    return gel;
  const std::string help = opening_help(r, v);
  return (help.empty() ? "" : para(told(v, "clamping.one-of-these")) + help) + gel;
}

std::string clamping_sentence(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const auto forces = [&](double a, double b) {
    return std::vector<Argument>{arg::name(force(a, v)), arg::name(force(b, v))};
  };
  if (!r.closing.closes()) {
    auto said = forces(r.closing.reinforcement, r.closing.closing);
    said.push_back(arg::name(with_unit(r.closing.stands_open, D::length, v)));
    return rich(v, "clamping.mold-cannot-close-glass-pushes", said);
  }
  if (r.filling.opening.history.empty()) return "";
  const OpeningSample &f = r.filling.opening.force, &p = r.filling.opening.place;
  const bool opens = f.margin() < 0;
  auto said = opens ? forces(f.opening, f.closing) : forces(f.closing, f.opening);
  said.insert(said.begin(), arg::name(with_time(f.time, r.nominal_filling.fill_time, v)));
  if (opens) return rich(v, "clamping.mold-opens-after-resin", said);
  std::string out = told(v, "clamping.whole-mold-stays-shut", said);
  if (p.minimum < 0 && p.node >= 0)
    out += " " + told(v, r.breathing.computed ? "clamping.places-resin-glass-press"
                                              : "clamping.places-resin-glass-press-harder");
  return out;
}

std::string clamping_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  return "<section>" + heading("shut", told(v, "clamping.does-stay-shut")) + para(clamping_sentence(r)) +
         (pipeline::changes_opening(r.plan) && !opening_help(r, v).empty() ? para(told(v, "clamping.before-the-work"))
                                                                           : "") +
         opening_help(r, v) + closing_table(r, v) + packed_table(r, v) + opening_table(r, v) + zone_table(r, v) +
         source_table(r, v) + breathing_part(r, v) + advice_part(r, v) + "</section>\n";
}

}  // namespace gapfront::report
