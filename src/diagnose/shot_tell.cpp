// What is said of a shot: verdict, likely cause, and what to check.
#include <cmath>

#include "diagnose/shot.hpp"

namespace gapfront::diagnosis {
namespace {

// A cause is named alone where it is so much likelier than the next.
constexpr double kFarLikelier = 3;

Argument by_factor(double v) { return arg::number(v, 2); }

Message of_cause(const ShotCandidate& c) {
  const double amount = c.amount.value;
  switch (c.cause) {
    case ShotCause::none:
      return Message("shot.nothing");
    case ShotCause::thick_resin:
      return Message("shot.thick-resin", {by_factor(amount)});
    case ShotCause::thin_resin:
      return Message("shot.thin-resin", {by_factor(amount)});
    case ShotCause::low_permeability:
      return Message("shot.low-permeability", {by_factor(amount)});
    case ShotCause::high_permeability:
      return Message("shot.high-permeability", {by_factor(amount)});
    case ShotCause::more_glass:
      return Message("shot.more-glass", {arg::fraction(amount - 1, 0)});
    case ShotCause::less_glass:
      return Message("shot.less-glass", {arg::fraction(1 - amount, 0)});
    case ShotCause::wide_gap:
      return Message("shot.wide-gap", {arg::length(amount)});
    case ShotCause::race_track:
      if (c.subject == "whole") return Message("shot.race-track");
      return Message("shot.race-track-side", {arg::place(c.at, 2)});
    case ShotCause::resin_leak:
      return Message("shot.resin-leak", {arg::fraction(amount, 0)});
    case ShotCause::poor_vacuum:
      return Message("shot.poor-vacuum", {arg::pressure(amount)});
    case ShotCause::clogged_vent:
      return Message("shot.clogged-vent", {arg::name(c.subject)});
    case ShotCause::pump:
      return Message("shot.pump", {arg::fraction(amount, 0)});
  }
  return {};
}

Message of_check(const ShotCandidate& c) {
  switch (c.cause) {
    case ShotCause::none:
      return {};
    case ShotCause::thick_resin:
    case ShotCause::thin_resin:
      return Message("shot.check-resin");
    case ShotCause::low_permeability:
    case ShotCause::high_permeability:
      return Message("shot.check-permeability");
    case ShotCause::more_glass:
    case ShotCause::less_glass:
      return Message("shot.check-glass");
    case ShotCause::wide_gap:
      return Message("shot.check-closed");
    case ShotCause::race_track:
      return Message("shot.check-edges");
    case ShotCause::resin_leak:
      return Message("shot.check-leak");
    case ShotCause::poor_vacuum:
      return Message("shot.check-vacuum");
    case ShotCause::clogged_vent:
      return Message("shot.check-vent", {arg::name(c.subject)});
    case ShotCause::pump:
      return Message("shot.check-pump");
  }
  return {};
}

}  // namespace

void tell_cause(ShotCandidate& c) { c.what = of_cause(c), c.check = of_check(c); }

void tell_shot(const ShotLog& log, const FlowOptions& job, const ShotOptions& o, ShotFound& f) {
  // Two sides of one rim are one cause.
  const ShotCandidate& first = f.causes[0];
  const ShotCandidate* second = &f.causes[1];
  for (const ShotCandidate& c : f.causes)
    if (c.cause != first.cause) {
      second = &c;
      break;
    }
  const auto chance = [](const ShotCandidate& c) { return arg::probability(c.probability); };
  const std::vector<Argument> both{arg::message(first.what), chance(first), arg::message(second->what),
                                   chance(*second)};
  const bool alone = first.probability >= kFarLikelier * second->probability;
  const auto check = [&](const ShotCandidate& c) {
    if (!c.check.empty() && (f.check.empty() || f.check[0] != c.check)) f.check.push_back(c.check);
  };
  switch (f.verdict) {
    case ShotVerdict::normal:
      f.headline = {Message(f.rests_on_earlier() ? "shot.normal-for-tool" : "shot.normal-for-job")};
      break;
    case ShotVerdict::abnormal:
      f.headline = {alone ? Message("shot.not-normal", {both[0], both[1]}) : Message("shot.not-normal-two", both)};
      check(first);
      if (!alone) check(*second);
      break;
    case ShotVerdict::unclear:
      f.headline = {Message("shot.unclear", both)};
      check(first), check(*second);
      break;
    case ShotVerdict::unexplained:
      f.headline = {Message("shot.unexplained", {both[0]})};
      f.check = {Message("shot.check-log")};
      break;
  }
  // What was measured is believed: a shot may still be as the job allows it to be.
  const double thicker = log.viscosity > 0 ? log.viscosity / job.viscosity : 1;
  if (f.verdict == ShotVerdict::normal && std::abs(std::log(thicker)) > 2 * o.measured_viscosity)
    f.check.push_back(Message("shot.note-measured-viscosity", {by_factor(thicker)}));
  if (log.vents.empty()) f.check.push_back(Message("shot.note-vents"));
  if (f.verdict != ShotVerdict::normal && !(log.viscosity > 0)) f.check.push_back(Message("shot.note-viscosity"));
}

}  // namespace gapfront::diagnosis
