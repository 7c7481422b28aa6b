#include "gapfront/process_words.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "pipeline/notes.hpp"

namespace gapfront::pipeline {
namespace {

using Change = ProcessChange;

/// A change that would do, and with what fill: without one, with one in time, with one that is too late.
struct Would {
  const char *alone, *in_time, *too_late;
};

Message timed(const Would& ids, std::vector<Argument> arguments, double fill_time, double gel_time) {
  if (!(fill_time > 0)) return Message(ids.alone, std::move(arguments));
  const bool late = gel_time > 0 && fill_time > gel_time;
  arguments.push_back(arg::time(fill_time));
  if (late) arguments.push_back(arg::time(gel_time));
  return Message(late ? ids.too_late : ids.in_time, std::move(arguments));
}

/// One change that would hold the mold shut.
Message holds(const Change& c, double gel_time) {
  static const Would limit{"process.pressure-limit-above-atmosphere", "process.pressure-limit-above-atmosphere-would",
                           "process.pressure-limit-above-atmosphere-would-do"};
  static const Would rate{"process.pump-rate-alone", "process.pump-rate-would-do", "process.pump-rate-would-do-fill"};
  static const Would vacuum{"process.vacuum-atmosphere-cavity-would", "process.vacuum-atmosphere-cavity-would-do",
                            "process.vacuum-atmosphere-cavity-would-do-fill"};
  static const Would none{"process.no-vacuum-alone", "process.no-vacuum-cavity-would", "process.no-vacuum-too-late"};
  const Quantity of_atmosphere = arg::fraction(c.amount / atmosphere_pa, 0);
  switch (c.kind) {
    case Change::Kind::lower_limit:
      return timed(limit, {arg::pressure(c.amount)}, c.fill_time, gel_time);
    case Change::Kind::slower:
      return timed(rate, {arg::flow_rate(c.amount)}, c.fill_time, gel_time);
    case Change::Kind::stop_when_full: {
      Quantity full = arg::fraction(c.amount, 0);
      full.round_down = true;
      return Message("process.opens-only-when-full", {full});
    }
    case Change::Kind::cavity_vacuum:
      return c.amount > 0 ? timed(vacuum, {of_atmosphere}, c.fill_time, gel_time)
                          : timed(none, {}, c.fill_time, gel_time);
    case Change::Kind::clamping:
      return Message("process.clamps-more-would-do", {arg::force(c.amount)});
    case Change::Kind::perimeter:
      return Message("process.perimeter-channel-wide-vacuum", {arg::length(c.second, 0), of_atmosphere});
    default:
      return {};
  }
}

/// What would fill in time.
Message hurries(const Change& c) {
  const Quantity of_atmosphere = arg::fraction(c.amount / atmosphere_pa, 0);
  switch (c.kind) {
    case Change::Kind::cavity_vacuum:
      if (c.second > 0)
        return Message("process.vacuum-limit-would-fill",
                       {of_atmosphere, arg::pressure(c.second), arg::time(c.fill_time)});
      return Message("process.vacuum-would-fill", {of_atmosphere, arg::time(c.fill_time)});
    case Change::Kind::thinner_resin:
      return in_one_sentence(
          {c.second > 1.05 ? Message("process.resin-would-fill-faster",
                                     {arg::viscosity(c.amount), arg::time(c.fill_time), arg::number(c.second, 1)})
                           : Message("process.resin-would-fill", {arg::viscosity(c.amount), arg::time(c.fill_time)}),
           Message("process.warm-resin-thinner-but")});
    case Change::Kind::second_inlet:
      return Message("process.second-inlet-would-fill", {arg::place(c.at), arg::time(c.fill_time)});
    case Change::Kind::higher_limit:
      if (c.second > 0)
        return Message("process.pressure-limit-above-atmosphere-more",
                       {arg::pressure(c.amount), arg::force(c.second), arg::time(c.fill_time)});
      return Message("process.pressure-limit-above-atmosphere-would-fill",
                     {arg::pressure(c.amount), arg::time(c.fill_time)});
    case Change::Kind::limit_alone:
      if (c.second > 0)
        return Message("process.limit-alone-more",
                       {arg::pressure(c.amount), arg::force(c.second), arg::time(c.fill_time)});
      return Message("process.limit-alone-would-fill", {arg::pressure(c.amount), arg::time(c.fill_time)});
    default:
      return {};
  }
}

bool is_setting(const Change& c) { return c.kind < Change::Kind::clamping; }

bool setting_helps(const OpeningHelp& help) {
  return std::any_of(help.changes.begin(), help.changes.end(), is_setting);
}

/// Whether the filling with the advised schedule keeps the mold closed.
bool schedule_shuts(const ProcessAdvice& a) {
  return a.mode != PumpMode::none && a.keeps_limits && a.advised.min_margin >= 0 && a.advised.min_safety >= 1;
}

/// The schedule as what keeps it closed, and what that costs: with the inlet below atmosphere it is none of the single
/// changes that were tried.
Message schedule_instead(const Predicted& r) {
  const ProcessAdvice& a = r.advice;
  if (!a.in_time) return Message("process.no-setting-helps-in-time");
  const double nominal = r.nominal_filling.fill_time;
  return Message(a.pressure_limit < 0 ? "process.schedule-below-keeps-closed" : "process.schedule-keeps-closed",
                 {arg::pressure(std::abs(a.pressure_limit)), arg::time(a.advised.fill_time, nominal),
                  arg::time(a.own.fill_time, nominal), arg::area(a.advised.dry_area), arg::area(a.own.dry_area)});
}

}  // namespace

Messages help_words(const OpeningHelp& help, double gel_time, const std::optional<Message>& schedule) {
  using Reason = OpeningHelp::Reason;
  Messages out;
  if (help.reason == Reason::stays_closed) return out;
  if (!setting_helps(help) && schedule) {
    if (!schedule->empty()) out.push_back(*schedule);
  } else if (!setting_helps(help)) {
    out.push_back(Message(help.reason == Reason::reinforcement_alone ? "process.no-injection-setting-helps"
                          : help.reason == Reason::vacuum_gone       ? "process.no-injection-setting-helps-where"
                                                                     : "process.no-injection-setting-helps-2"));
  }
  for (const Change& c : help.changes) out.push_back(holds(c, gel_time));
  if (help.changes.empty()) return out;
  out.push_back(help.factor >= help.wanted ? Message("process.closing-then-least-times", {arg::number(help.factor, 2)})
                                           : Message("process.closing-then-just-above", {arg::number(help.wanted, 2)}));
  return out;
}

Messages opening_words(const Predicted& r) {
  Messages out;
  if (!r.closing.closes()) {
    out.push_back(Message("clamping.mold-cannot-close-glass",
                          {arg::force(r.closing.reinforcement), arg::force(r.closing.closing)}));
  } else if (const OpeningSample& f = r.filling.opening.force; f.node >= 0 && f.margin() < 0) {
    out.push_back(Message("clamping.mold-opens-resin-glass", {arg::time(f.time, r.nominal_filling.fill_time),
                                                              arg::force(f.opening), arg::force(f.closing)}));
  }
  if (out.empty()) return out;
  const auto schedule = schedule_shuts(r.advice) ? std::optional(schedule_instead(r)) : std::nullopt;
  for (Message& m : help_words(r.advice.help, r.advice.gel_time, schedule)) out.push_back(std::move(m));
  return out;
}

bool changes_opening(const CorrectionPlan& plan) {
  return std::any_of(plan.chosen.begin(), plan.chosen.end(), [&](int k) {
    const Correction& c = plan.candidates[k];
    return c.face != "settings" || c.kind == Kind::vent_open;
  });
}

void tell_opening_after(Inspection& r) {
  const CorrectionPlan& plan = r.plan;
  const Messages before = opening_words(r);
  if (!changes_opening(plan) || before.size() < 2) return;
  const auto said = std::find(r.warnings.begin(), r.warnings.end(), in_one_sentence(before));
  if (said != r.warnings.end()) *said = before.front();
  const auto& left = plan.not_cured;
  if (std::find(left.begin(), left.end(), Uncured::opening) == left.end()) return;
  const auto gap =
      plan.breathing_after.computed ? flow::under_filling(plan.gap_after, plan.breathing_after) : plan.gap_after;
  const LaminateMap laminate = laminate::evaluate_laminate(r.sheet, gap, plan.laminate_after);
  const OpeningHelp help = flow::opening_help(r.sheet, laminate, plan.flow_after, r.filling_after);
  // The report shows the schedule of the mold as it is: of one for the mold with this work nothing is said, but then
  // neither that no setting helps.
  const bool shuts =
      !setting_helps(help) && schedule_shuts(flow::advise_process(r.sheet, laminate, plan.flow_after, r.filling_after));
  Text& remains = r.plan.remains;
  std::erase_if(remains, [](const Message& m) {
    return m.id == "advice.inject-slower-less-pressure" || m.id == "remains.clamp-harder" ||
           m.id == "remains.clamp-harder-none-in-time";
  });
  const auto schedule = shuts ? std::optional<Message>(Message()) : std::nullopt;
  if (const Messages words = help_words(help, plan.flow_after.gel_time, schedule); !words.empty())
    remains.push_back(Message("process.with-this-work", {arg::message(in_one_sentence(words))}));
}

Messages schedule_words(const Predicted& r) {
  const ProcessAdvice& a = r.advice;
  Messages out;
  if (a.mode == PumpMode::none) {
    if (!r.filling.opening.history.empty())
      out.push_back(Message(r.filling.opening.dry.safety() < a.help.wanted ? "clamping.no-flow-rate-keeps"
                                                                           : "clamping.no-flow-rate-keeps-mold"));
    return out;
  }
  if (!a.keeps_limits) out.push_back(Message("clamping.advised-schedule-comes-closer"));
  if (a.in_time) return out;
  out.push_back(a.advised.gelled
                    ? Message("process.no-way-inject-gels", {arg::time(a.gel_time)})
                    : Message("process.no-way-inject-within", {arg::time(a.advised.fill_time), arg::time(a.gel_time)}));
  for (const Change& c : a.to_be_in_time) out.push_back(hurries(c));
  if (a.to_be_in_time.empty())
    out.push_back(
        in_one_sentence({Message("process.neither-thinner-resin-nor"), Message("process.resin-gels-later-would")}));
  return out;
}

}  // namespace gapfront::pipeline
