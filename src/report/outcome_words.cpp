// The outcome in words, once: terminal, report, work order, re-check and diagnosis print this line and no other.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using report::word_of;

Message obstacle_text(Obstacle o) {
  switch (o) {
    case Obstacle::none:
      break;
    case Obstacle::stack_cannot_fill:
      return Message("outcome.glass-does-not-fill");
    case Obstacle::reinforcement_holds_open:
      return Message("outcome.glass-alone-holds-mold");
    case Obstacle::layout_traps_air:
      return Message("outcome.nominal-mold-traps-air");
    case Obstacle::resin_gels_first:
      return Message("outcome.resin-gels-in-nominal");
  }
  return {};
}

/// Tenths of a percent, and two digits of what is less.
Quantity of_area(double fraction) {
  const bool small = fraction > 0 && fraction < 5e-4;
  return arg::fraction(fraction,
                       small ? std::clamp(1 - static_cast<int>(std::floor(std::log10(100 * fraction))), 1, 6) : 1);
}

Message verdict_words(const Verdict& v, bool provisional) {
  const auto over = [&](Conformity c, double fraction) {
    return Message(provisional ? "outcome.provisional-verdict-over-area" : "outcome.verdict-over-area",
                   {arg::message(word_of(c)), of_area(fraction)});
  };
  const auto fraction = [&](Conformity c) { return v.fraction[static_cast<int>(c)]; };
  const double open = fraction(Conformity::undecided), unseen = fraction(Conformity::not_measured);
  switch (v.overall) {
    case Conformity::conforming:
    case Conformity::nonconforming:
      return over(v.overall, fraction(v.overall));
    case Conformity::undecided:
      if (!(unseen > 0)) return over(v.overall, open);
      return Message(provisional ? "outcome.provisional-verdict-undecided-over" : "outcome.verdict-undecided-over-area",
                     {of_area(open + unseen), of_area(unseen)});
    case Conformity::not_measured:
    case Conformity::not_judged:
      break;
  }
  return Message(provisional ? "outcome.provisional-verdict-not-measured" : "outcome.verdict-not-measured");
}

Message area_words(const Outcome& o) {
  const Quantity now = arg::area(o.now.out_area), after = arg::area(o.after.out_area);
  if (!o.works) return Message("outcome.gap-out-tolerance-now", {now});
  if (!(o.after.out_high > o.after.out_low)) return Message("outcome.gap-out-tolerance-now-after", {now, after});
  return Message("outcome.gap-out-tolerance-now-after-corrections",
                 {now, after, arg::area(o.after.out_low), arg::area(o.after.out_high)});
}

/// What counts as trapped air is said here, and so wherever the line goes.
Message air_words(const Inspection& r) {
  const Outcome& o = r.outcome;
  const double minimum = r.job.ensemble.min_dry;
  const bool counts = minimum > 0;
  std::vector<Argument> first;
  if (counts) first = {arg::given_area(minimum)};
  if (o.now.air.draws == 0)
    return in_one_sentence(
        {Message(counts ? "outcome.chance-trapped-air-over" : "outcome.chance-trapped-air-not", first),
         Message(!flow::in_time(r.filling, r.job.flow) ? "outcome.one-filling-gels"
                 : flow::dry_area(r.filling) > minimum ? "outcome.one-filling-measured-gap"
                                                       : "outcome.one-filling-measured-gap-traps")});
  Messages all;
  const auto add = [&](const char* id, const Chance& c, std::vector<Argument> arguments) {
    if (c.draws == 0) return;
    for (const double p : {c.p, c.low, c.high}) arguments.push_back(arg::fraction(p, 0));
    all.push_back(Message(id, std::move(arguments)));
  };
  add(counts ? "outcome.chance-trapped-air-over-dry" : "outcome.chance-trapped-air-95", o.now.air, first);
  if (o.works) add("outcome.after-corrections", o.after.air, {});
  add("outcome.nominal-mold", o.nominal.air, {});
  return full_sentence(all);
}

/// Only where it opens: the force balance of the whole mold decides that, not the local margin.
Text clamping_words(const Outcome& o) {
  const bool later = o.works && !o.after.closes;
  Text out;
  if (!o.now.closes)
    out.push_back(
        Message(!o.works || later ? "outcome.mold-cannot-closed-glass" : "outcome.mold-cannot-closed-glass-now"));
  else if (later)
    out.push_back(Message("outcome.after-corrections-mold-cannot"));
  if (!(o.now.balance < 1) && !(o.works && o.after.balance < 1)) return out;
  const Quantity now = arg::number(o.now.balance, 2), after = arg::number(o.after.balance, 2);
  out.push_back(o.works ? Message("outcome.mold-opens-while-fills-closing", {now, after})
                        : Message("outcome.mold-opens-while-fills", {now}));
  return out;
}

/// Where the resin gels before the mold is full. Of resin that ages the front itself stops.
Text gel_words(const Inspection& r) {
  if (const double stops = r.filling.supply.gelled_at; std::isfinite(stops)) {
    // After the work by the plan's own settings: resin that is warmed gels sooner.
    const bool late = r.outcome.works ? r.plan.after.gel_fraction > 1 : !flow::in_time(r.filling, r.job.flow);
    if (!late) return {};
    return {Message("outcome.gels-and-stops", {arg::time(stops, r.nominal_filling.fill_time)})};
  }
  const double gel = r.advice.gel_time, full = r.nominal_filling.fill_time;  // result.json has no other
  const StateOutcome &now = r.outcome.now, &after = r.outcome.after;
  const bool late = now.fill_time > gel, later = r.outcome.works && after.fill_time > gel;
  // In some of the drawn fillings, which scatter as parts do.
  if (const double high = r.ensemble.fill_time_high; gel > 0 && !late && !later && !r.outcome.works && high > gel)
    return {Message("outcome.gels-first-in-some",
                    {arg::time(r.ensemble.fill_time_low, full), arg::time(high, full), arg::time(gel, full)})};
  if (!(gel > 0) || (r.outcome.works ? !later : !late)) return {};
  if (!r.outcome.works) return {Message("outcome.gels-first", {arg::time(gel, full), arg::time(now.fill_time, full)})};
  return {Message("outcome.gels-first-works",
                  {arg::time(gel, full), arg::time(now.fill_time, full), arg::time(after.fill_time, full)})};
}

}  // namespace

Voice voice_of(const Job& job) { return {job.units, job.language}; }

Text outcome_says(const Inspection& r) {
  if (r.doubt) return {Message("outcome.no-verdict-no-corrections")};
  Text out;
  if (r.outcome.obstacle != Obstacle::none) out.push_back(obstacle_text(r.outcome.obstacle));
  out.push_back(verdict_words(r.verdict, job::provisional(r.job)));
  const auto unsettled = [](const Message& m) {
    return m.id == "warnings.unsettled-filling" || m.id == "warnings.unsettled-drawn-fillings" ||
           m.id == "warnings.unsettled-shape-under-load";
  };
  if (std::any_of(r.warnings.begin(), r.warnings.end(), unsettled))
    out.push_back(Message("outcome.front-did-not-settle"));
  for (Message& m : report::outcome_after_verdict(r)) out.push_back(std::move(m));
  return out;
}

Text outcome_after_verdict(const Inspection& r) {
  Text out{area_words(r.outcome)};
  if (!r.verdict.covered && r.gap.unmeasured_area > 0)
    out.push_back(Message("outcome.not-measured-counts-in-neither", {arg::area(r.gap.unmeasured_area)}));
  out.push_back(air_words(r));
  for (Message& m : clamping_words(r.outcome)) out.push_back(std::move(m));
  for (Message& m : gel_words(r)) out.push_back(std::move(m));
  return out;
}

std::string outcome_line(const Inspection& r) { return say(outcome_says(r), {r.job.units}); }

}  // namespace gapfront::report
