#include "gapfront/process_words.hpp"

#include <cmath>

#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

using Change = ProcessChange;

std::string of_atmosphere(double pa) { return spoken(100 * pa / atmosphere_pa, 0) + " % of atmosphere"; }

/// "…, with the fill in 9 min": what it does to the fill, and whether the resin waits for that.
std::string in_time(double fill_time, double gel_time) {
  if (!(fill_time > 0)) return "";
  return ", with the fill in " + format_time(fill_time) +
         (gel_time > 0 && fill_time > gel_time ? ", which is too late: the resin gels after " + format_time(gel_time)
                                               : "");
}

/// One change that would hold the mold shut.
std::string holds(const Change& c, double gel_time, UnitSystem u) {
  switch (c.kind) {
    case Change::Kind::lower_limit:
      return "a pressure limit of " + format_pressure(c.amount, u) + " above atmosphere would do" +
             in_time(c.fill_time, gel_time);
    case Change::Kind::slower:
      return "a pump rate of " + format_flow_rate(c.amount, u) + " would do" + in_time(c.fill_time, gel_time);
    case Change::Kind::stop_when_full:
      return "it opens only when " + spoken(std::floor(100 * c.amount), 0) +
             " % is full: stop the pump as soon as resin shows at the vent";
    case Change::Kind::cavity_vacuum:
      return c.amount > 0
                 ? "a vacuum of " + of_atmosphere(c.amount) + " in the cavity would do" + in_time(c.fill_time, gel_time)
                 : "no vacuum in the cavity would do" + in_time(c.fill_time, gel_time);
    case Change::Kind::clamping:
      return "clamps with " + format_force(c.amount, u) + " more would do";
    case Change::Kind::perimeter:
      return "a perimeter channel " + spoken_length(c.second, 0, u) + " " + length_unit(u) + " wide at a vacuum of " +
             of_atmosphere(c.amount) + " would do";
    default:
      return "";
  }
}

/// One change that would fill in time.
std::string hurries(const Change& c, UnitSystem u) {
  switch (c.kind) {
    case Change::Kind::thinner_resin:
      return "a resin of " + words("%.2g", c.amount) + " Pa·s would fill in " + format_time(c.fill_time) +
             "; warm resin is thinner but gels sooner, so measure its gel time at that temperature";
    case Change::Kind::second_inlet:
      return "a second inlet at " + spoken_place(c.at, u) + " would fill in " + format_time(c.fill_time);
    case Change::Kind::higher_limit:
      return "a pressure limit of " + format_pressure(c.amount, u) + " above atmosphere" +
             (c.second > 0 ? " with " + format_force(c.second, u) + " more of clamps" : std::string()) +
             " would fill in " + format_time(c.fill_time);
    default:
      return "";
  }
}

bool is_setting(const Change& c) { return c.kind < Change::Kind::clamping; }

}  // namespace

std::vector<std::string> opening_words(const Predicted& r) {
  using Reason = OpeningHelp::Reason;
  const UnitSystem u = r.job.units;
  const OpeningHelp& help = r.advice.help;
  std::vector<std::string> out;
  if (!r.closing.closes()) {
    out.push_back("the mold cannot close: the glass pushes back with " + format_force(r.closing.reinforcement, u) +
                  " against a closing force of " + format_force(r.closing.closing, u));
  } else if (const OpeningSample& f = r.filling.opening.force; f.node >= 0 && f.margin() < 0) {
    out.push_back("the mold opens: at " + time_in_fill(f.time, r.nominal_filling.fill_time) +
                  " resin and glass push with " + format_force(f.opening, u) + " against a closing force of " +
                  format_force(f.closing, u));
  }
  if (out.empty() || help.reason == Reason::stays_closed) return out;
  bool setting = false;
  for (const Change& c : help.changes) setting = setting || is_setting(c);
  if (!setting)
    out.push_back(help.reason == Reason::reinforcement_alone
                      ? "no injection setting helps: the glass alone holds it open"
                  : help.reason == Reason::vacuum_gone
                      ? "no injection setting helps: where resin has come the vacuum closes no more, and the glass "
                        "outweighs the rest"
                      : "no injection setting helps");
  for (const Change& c : help.changes) out.push_back(holds(c, r.advice.gel_time, u));
  if (help.changes.empty()) return out;
  out.push_back(help.factor >= help.wanted
                    ? "closing is then at least " + spoken(help.factor, 2) + " times opening, the safety wanted"
                    : "closing is then just above opening, not " + spoken(help.wanted, 2) +
                          " times it, the safety wanted");
  return out;
}

std::vector<std::string> schedule_words(const Predicted& r) {
  const UnitSystem u = r.job.units;
  const ProcessAdvice& a = r.advice;
  std::vector<std::string> out;
  if (a.mode == PumpMode::none) {
    if (r.filling.opening.history.empty()) return out;
    out.push_back(
        r.filling.opening.dry.safety() < a.help.wanted
            ? "no flow rate keeps the mold shut with the safety wanted: the glass alone takes up the clamping"
            : "no flow rate keeps the mold shut with the safety wanted: where resin has come, hardly anything "
              "holds the mold shut");
    return out;
  }
  if (!a.keeps_limits) out.push_back("the advised schedule comes closer to a limit than the safety wanted");
  if (a.in_time) return out;
  out.push_back("no way to inject within the limits fills the mold before the resin gels: the fastest takes " +
                format_time(a.advised.fill_time) + ", and the resin gels after " + format_time(a.gel_time));
  for (const Change& c : a.to_be_in_time) out.push_back(hurries(c, u));
  if (a.to_be_in_time.empty())
    out.push_back(
        "neither a thinner resin nor a second inlet nor a higher pressure limit does by computation; a resin "
        "that gels later would");
  return out;
}

}  // namespace gapfront
