// The outcome in words, once: terminal, report, work order, re-check and diagnosis print this line and no other.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

std::string whole_percent(double fraction) { return spoken(100 * fraction, 0) + " %"; }
std::string tenths(double fraction) { return spoken(100 * fraction, 1) + " %"; }

std::string obstacle_words(Obstacle o) {
  switch (o) {
    case Obstacle::none:
      return "";
    case Obstacle::stack_cannot_fill:
      return "The glass does not fill the nominal section: a channel stays open whatever is done to the gap. ";
    case Obstacle::reinforcement_holds_open:
      return "The glass alone holds the mold open. ";
    case Obstacle::layout_traps_air:
      return "The nominal mold traps air as well: inlets and vents are at fault, not the gap. ";
  }
  return "";
}

std::string verdict_words(const Verdict& v, bool provisional) {
  const std::string name = provisional ? "Provisional verdict: " : "Verdict: ";
  const auto fraction = [&](Conformity c) { return v.fraction[static_cast<int>(c)]; };
  const double open = fraction(Conformity::undecided), unseen = fraction(Conformity::not_measured);
  switch (v.overall) {
    case Conformity::conforming:
    case Conformity::nonconforming:
      return name + to_string(v.overall) + " over " + tenths(fraction(v.overall)) + " of the area.";
    case Conformity::undecided:
      return name + "undecided over " + tenths(open + unseen) + " of the area" +
             (unseen > 0 ? ", of which " + tenths(unseen) + " is not measured." : ".");
    case Conformity::not_measured:
    case Conformity::not_judged:
      break;
  }
  return name + "not measured.";
}

std::string area_words(const Outcome& o, UnitSystem u) {
  std::string out = " Gap out of tolerance: " + format_area(o.now.out_area, u) + " now";
  if (o.works) {
    out += ", " + format_area(o.after.out_area, u) + " after the corrections";
    if (o.after.out_high > o.after.out_low)
      out += " (95 %: " + format_area(o.after.out_low, u) + " to " + format_area(o.after.out_high, u) + ")";
  }
  return out + ".";
}

/// What counts as trapped air is said here, and so wherever the line goes.
std::string air_words(const Inspection& r) {
  const Outcome& o = r.outcome;
  const double minimum = r.job.ensemble.min_dry;
  std::string out = " Chance of trapped air";
  if (minimum > 0) out += " (over " + min_dry_words(r) + " dry)";
  if (o.now.air.draws == 0)
    return out + ": not estimated; the one filling with the measured gap traps " +
           (dry_area(r.filling) > minimum ? "air." : "none.");
  out += " with its 95 % interval: ";
  const auto add = [&](const char* state, const Chance& c) {
    if (c.draws == 0) return;
    out += state + whole_percent(c.p) + " (" + whole_percent(c.low) + " to " + whole_percent(c.high) + ")";
  };
  add("now ", o.now.air);
  if (o.works) add("; after the corrections ", o.after.air);
  add("; in a nominal mold ", o.nominal.air);
  return out + ".";
}

/// Only where it opens: the force balance of the whole mold decides that, not the local margin.
std::string clamping_words(const Outcome& o) {
  const bool later = o.works && !o.after.closes;
  std::string out;
  if (!o.now.closes)
    out = !o.works || later ? " The mold cannot be closed on its glass."
                            : " The mold cannot be closed on its glass now, but can after the corrections.";
  else if (later)
    out = " After the corrections the mold cannot be closed on its glass.";
  if (!(o.now.balance < 1) && !(o.works && o.after.balance < 1)) return out;
  out += " The mold opens while it fills: closing force over opening force falls to " + spoken(o.now.balance, 2);
  if (o.works) out += " now, " + spoken(o.after.balance, 2) + " after the corrections";
  return out + ".";
}

}  // namespace

Voice voice_of(const Job& job) { return {job.units, job.language}; }

std::string outcome_line(const Inspection& r) {
  if (r.doubt) return "No verdict and no corrections: the registration must be checked first.";
  return obstacle_words(r.outcome.obstacle) + verdict_words(r.verdict, provisional(r.job)) +
         area_words(r.outcome, r.job.units) + air_words(r) + clamping_words(r.outcome);
}

// As many digits as somebody set: an area of a mesh would have one fewer.
std::string min_dry_words(const Inspection& r) {
  const bool inch = r.job.units == UnitSystem::inch;
  return words("%.3g", r.job.ensemble.min_dry / (inch ? 25.4 * 25.4 : 100)) + (inch ? " in²" : " cm²");
}

}  // namespace gapfront
