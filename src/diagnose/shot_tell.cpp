// What is said of a shot: verdict, likely cause, and what to check.
#include <algorithm>
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
    case ShotCause::inlet_blocked:
      return Message("shot.inlet-blocked", {arg::fraction(amount, 0)});
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
    case ShotCause::inlet_blocked:
      return Message("shot.check-inlet");
  }
  return {};
}

/// A log that no single cause explains.
Message unexplained(const ShotFound& f, int astray) {
  const ShotCandidate& nearest = f.causes[0];
  if (nearest.cause != ShotCause::none) return Message("shot.unexplained", {arg::message(nearest.what)});
  if (astray < 0 || !std::isfinite(f.vents[astray].predicted)) return Message("shot.unexplained-all");
  const ShotVent& v = f.vents[astray];
  const Argument name = arg::name(v.name), expected = arg::time(v.predicted);
  if (!std::isfinite(v.seen)) return Message("shot.unexplained-dry-vent", {name, expected});
  return Message("shot.unexplained-vent", {name, arg::time(v.seen), expected});
}

// Of more jumps than so many the first are told.
constexpr std::size_t kMostSteps = 4;

/// What jumped, when and by how much.
Messages jumps(const ShotFound& f) {
  Messages out;
  for (std::size_t k = 0; k < std::min(kMostSteps, f.steps.size()); ++k) {
    const ShotStep& s = f.steps[k];
    out.push_back(
        Message(s.after < s.before ? "shot.step-fell" : "shot.step-rose",
                {arg::time(s.time), arg::pressure(std::abs(s.after - s.before)), arg::pressure(s.before),
                 arg::pressure(s.after), arg::number(std::round(std::abs(s.after - s.before) / f.pressure_noise))}));
  }
  return out;
}

/// Of causes the first that is not the resin, where that was measured.
const ShotCandidate& beside_resin(const ShotFound& f) {
  for (const ShotCandidate& c : f.causes)
    if (c.cause != ShotCause::thick_resin && c.cause != ShotCause::thin_resin) return c;
  return f.causes[0];
}

}  // namespace

void tell_cause(ShotCandidate& c) { c.what = of_cause(c), c.check = of_check(c); }

void tell_measured(ShotCandidate& c) {
  c.what = Message("shot.resin-as-measured", {by_factor(c.amount.value)});
  c.check = Message("shot.check-measured-resin");
}

void tell_shot(const ShotLog& log, const FlowOptions& job, const ShotOptions& o, int astray, ShotFound& f) {
  // Two sides of one rim are one cause.
  const ShotCandidate& first = f.causes[0];
  const ShotCandidate* second = &f.causes[1];
  for (const ShotCandidate& c : f.causes)
    if (c.cause != first.cause && (c.cause != ShotCause::none || c.p_value >= kUnexplained)) {
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
  const double thicker = log.viscosity > 0 ? log.viscosity / job.viscosity : 1;
  const bool known = measured_apart(log, job, o);
  const bool by_resin = known && (first.cause == ShotCause::thick_resin || first.cause == ShotCause::thin_resin);
  const Argument share = arg::fraction(f.judged, 0);
  const bool rested = stretches_of(log, job).stands;
  switch (f.verdict) {
    case ShotVerdict::normal:
      f.headline = {Message(f.rests_on_earlier() ? "shot.normal-for-tool" : "shot.normal-for-job")};
      break;
    case ShotVerdict::abnormal:
      if (by_resin && alone) {
        f.headline = {Message("shot.measured-resin", {by_factor(thicker)})};
      } else if (known && !alone) {
        const ShotCandidate& other = beside_resin(f);
        f.headline = {
            Message("shot.measured-resin-and", {by_factor(thicker), arg::message(other.what), chance(other)})};
        check(other);
      } else {
        f.headline = {alone ? Message("shot.not-normal", {both[0], both[1]}) : Message("shot.not-normal-two", both)};
      }
      check(first);
      if (!alone) check(*second);
      break;
    case ShotVerdict::unclear:
      if (f.judged < 1 && first.cause == ShotCause::none && alone) {
        f.headline = {Message(rested ? "shot.rested-early" : "shot.normal-so-far", {share})};
        break;
      }
      f.headline = {Message("shot.unclear", both)};
      check(first), check(*second);
      break;
    case ShotVerdict::unexplained:
      if (!f.steps.empty()) {
        f.headline = {Message("shot.not-normal-steps")};
        break;
      }
      f.headline = {unexplained(f, astray)};
      f.check = {Message(f.headline[0].id == "shot.unexplained" || f.headline[0].id == "shot.unexplained-all"
                             ? "shot.check-log"
                             : "shot.check-vent-seen")};
      break;
  }
  if (!f.steps.empty()) {
    for (const Message& m : jumps(f)) f.check.push_back(m);
    f.check.push_back(Message("shot.check-steps"));
  }
  if (f.judged < 1 && !rested) {
    if (f.headline[0].id != "shot.normal-so-far") f.check.push_back(Message("shot.note-so-far", {share}));
    f.check.push_back(Message("shot.check-log-to-end"));
  }
  // A gauge column that begins at one atmosphere, before resin comes, is most often one of absolute pressures.
  constexpr double kNearAtmosphere = 0.05, kNoResin = 0.005;
  const ShotSample& begin = log.samples.front();
  if (f.verdict != ShotVerdict::normal && begin.volume <= kNoResin * f.volume &&
      std::abs(begin.pressure - atmosphere_pa) < kNearAtmosphere * atmosphere_pa)
    f.check.push_back(Message("shot.check-absolute", {arg::pressure(begin.pressure)}));
  // What was measured is believed: a shot may still be as the job allows it to be.
  if (f.verdict == ShotVerdict::normal && std::abs(std::log(thicker)) > 2 * o.measured_viscosity)
    f.check.push_back(Message("shot.note-measured-viscosity", {by_factor(thicker)}));
  if (known && !by_resin && f.headline[0].id != "shot.measured-resin-and")
    f.check.push_back(Message("shot.note-other-resin", {by_factor(thicker)}));
  if (log.vents.empty()) f.check.push_back(Message("shot.note-vents"));
  if (f.verdict != ShotVerdict::normal && !(log.viscosity > 0)) f.check.push_back(Message("shot.note-viscosity"));
}

}  // namespace gapfront::diagnosis
