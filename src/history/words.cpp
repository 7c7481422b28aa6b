#include "history/words.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "core/neighbours.hpp"
#include "core/statistics.hpp"
#include "history/propose.hpp"
#include "history/seat.hpp"
#include "history/wear_end.hpp"
#include "units/digits.hpp"

namespace gapfront {
namespace {

/// Limits are those of today; the drift hangs on none.
Message tolerance_of_both(const Recheck& r) {
  const Limits &a = r.then.limits, &b = r.now.limits;
  if (a.sha256.empty() || b.sha256.empty()) return Message("pages.tolerance-not-kept");
  if (a.sha256 == b.sha256) return Message("pages.nominal-tolerance-drop-out");
  const auto all = [](const Limits& l) { return std::tuple(l.nominal, l.minus, l.plus); };
  if (all(a) == all(b)) return Message("pages.tolerance-elsewhere-other");
  const auto mm = [](double v) { return arg::length(v, 3); };
  return Message("pages.tolerance-was-other", {mm(a.nominal), mm(a.nominal - a.minus), mm(a.nominal + a.plus),
                                               mm(b.nominal), mm(b.nominal - b.minus), mm(b.nominal + b.plus)});
}

/// What drops out of the difference, and what does not.
Messages cancelled(const Recheck& r, const history::Drift& d) {
  Messages out;
  out.push_back(tolerance_of_both(r));
  const bool same = !r.now.instrument.empty() && r.now.instrument == r.then.instrument;
  out.push_back(same ? Message("pages.instruments-systematic-error-drops", {arg::name(r.now.instrument)})
                     : Message("pages.instruments-systematic-error-does"));
  out.push_back(d.held ? Message("pages.registration-counts-held")
                       : in_sequence({Message("pages.registration-halves-drops-out"),
                                      Message("pages.drift-itself-both-registrations")}));
  std::vector<double> u;
  for (const double v : r.u_transform)
    if (std::isfinite(v)) u.push_back(v);
  if (!u.empty())
    out.push_back(in_sequence({Message("pages.carrying-scans-onto-one"),
                               Message("pages.along-sheet-counts-where",
                                       {arg::tiny(median(u)), arg::tiny(*std::max_element(u.begin(), u.end()))}),
                               r.transform_targets > 0
                                   ? Message("pages.targets-lower-half-carry", {static_cast<long>(r.transform_targets)})
                                   : Message("pages.fewer-than-three-targets")}));
  return out;
}

using history::by_scatter;

/// Something has changed, and no more is known.
Text unsure_headline(const Recheck& r, const history::Drift& d) {
  const auto wide = smoothed(d.value, neighbours(r.sheet.mesh), 4);
  double sum = 0, area = 0;
  int most = -1;
  for (std::size_t i = 0; i < wide.size(); ++i) {
    if (!std::isfinite(wide[i])) continue;
    sum += r.sheet.area[i] * d.value[i], area += r.sheet.area[i];
    if (most < 0 || std::abs(wide[i]) > std::abs(wide[static_cast<std::size_t>(most)])) most = static_cast<int>(i);
  }
  if (most < 0) return {Message("pages.untold-datum")};
  const auto at = static_cast<std::size_t>(most);
  const Quantity greatest = arg::length(wide[at], 3, true);
  const auto place = arg::place(r.sheet.mesh.points[at], 2);
  if (by_scatter(r)) return {Message("pages.scatters-too-much", {arg::number(r.inflation, 1), greatest, place})};
  return {Message("pages.gap-changed-by", {arg::length(sum / area, 3, true), greatest, place}),
          Message("pages.untold-datum")};
}

/// Of the place that leads: what it comes to, and when.
Message life_of(const Wear& w) {
  if (at_limit(w)) return Message("pages.has-reached-limit");
  if (w.bent)
    return w.soonest >= 1 && std::isfinite(w.soonest)
               ? Message("pages.bent-not-before", {arg::cycles(cycles_at_least(w.soonest))})
               : Message("pages.no-straight-line");
  if (!w.enough) return Message("pages.there-not-enough-evidence");
  if (!(w.left_low >= 1)) return Message("pages.may-have-reached-limit", {arg::cycles(w.left_high)});
  return Message("pages.reaches-limit-about-cycles",
                 {arg::cycles(w.left), arg::cycles(cycles_at_least(w.left_low)), arg::cycles(w.left_high)});
}

/// What the wear of a place has used of what it may, the seat's movement apart.
Message used_of(const Recheck& r, const Wear& w) {
  double today = w.course.back().value;
  for (const TrendPoint& p : w.course)
    if (p.cycles == r.now.cycles) today = p.value;
  const double first = w.course.front().value;
  return Message("pages.by-seat-not-wear",
                 {arg::name(w.name), arg::length(w.seat, 3, true), arg::length(std::abs(today - first), 3),
                  arg::length(w.peak_U, 3), arg::length(std::abs(w.limit - first), 3)});
}

/// `all`: the whole face was compared.
Text wear_headline(const Recheck& r, bool all) {
  if (r.wear.empty())
    return {
        r.datum == DatumState::steady || r.datum == DatumState::unchecked
            ? Message(all ? "pages.no-wear-nowhere-has" : "pages.no-wear-where-compared", {arg::length(r.detects, 3)})
            : Message("pages.no-wear-found-beside")};
  const Wear& w = *first_to_end(r);
  const bool first = std::isfinite(earliest_end(w)) && std::all_of(r.wear.begin(), r.wear.end(), [&](const Wear& o) {
                       return earliest_end(w) <= earliest_end(o);
                     });
  const auto several = static_cast<long>(r.wear.size());
  const Quantity change = arg::length(w.peak, 3, true), U = arg::length(w.peak_U, 3);
  const bool narrower = w.peak < 0;
  Text out{several == 1
               ? Message(narrower ? "pages.narrower-one-place" : "pages.worn-one-place-changed",
                         {arg::name(w.name), change, U})
               : Message(narrower ? (first ? "pages.changed-places-first-reach" : "pages.changed-places-plainest")
                                  : (first ? "pages.worn-places-first-reach" : "pages.worn-places-plainest"),
                         {several, arg::name(w.name), change, U}),
           w.by_seat ? used_of(r, w) : life_of(w)};
  if (!narrower) return out;
  if (w.paceless()) out.pop_back();
  out.insert(out.begin() + 1, Message("pages.no-wear-narrows"));
  return out;
}

/// What was there and is gone; with the moment for a new baseline, unless the seat has to be put right first.
void tell_vanished(Recheck& r) {
  const auto told = [](const Vanished& v) {
    return Message("pages.change-vanished",
                   {arg::length(v.was, 3, true), arg::length(v.was_U, 3), arg::place(v.at, 2), arg::name(v.date),
                    arg::number(v.cycles), arg::name(v.gone), arg::number(v.gone_cycles)});
  };
  if (r.vanished.empty()) return;
  r.headline.push_back(told(r.vanished[0]));
  r.headline.push_back(Message(r.seat_first ? "pages.vanished-which" : "pages.vanished-find-out"));
  for (std::size_t k = 1; k < r.vanished.size(); ++k) r.notes.push_back(told(r.vanished[k]));
}

Text headline(const Recheck& r, const history::Drift& d, bool all, const RecheckOptions& o) {
  if (r.unsure) return unsure_headline(r, d);
  Text out = wear_headline(r, all);
  if (!r.seat_first) return out;
  const bool told = std::any_of(r.wear.begin(), r.wear.end(), [](const Wear& w) { return w.by_seat || at_limit(w); });
  out.push_back(Message(!told && history::out_by_seat(r, o) ? "pages.out-by-seat" : "pages.put-seat-right-first"));
  return out;
}

/// What to know of the datum: a target, or the whole upper half, that sits otherwise.
void note_datum(Recheck& r, const history::Drift& d) {
  if (r.datum == DatumState::target_moved)
    for (const auto& m : r.moved)
      r.notes.push_back(in_sequence(
          {Message(
               m.half == "lower"
                   ? (m.several ? "pages.datum-moved-not-only-face-target" : "pages.datum-moved-not-only")
                   : (m.several ? "pages.datum-moved-not-only-face-target-several" : "pages.datum-moved-not-only-face"),
               {arg::name(m.name), arg::length(m.distance, 3), arg::length(m.U, 3)}),
           Message("pages.clean-repair-seat-leave")}));
  if (r.datum == DatumState::half_moved)
    r.notes.push_back(in_sequence(
        {Message("pages.datum-seat-moved-gap", {arg::length(d.rigid.part.rms, 3), arg::length(d.rigid.part.rms_U, 3)}),
         Message("pages.not-counted-wear"), Message("pages.if-face-nearly-flat")}));
  if (r.datum == DatumState::unchecked) r.notes.push_back(Message("pages.fewer-than-four-targets"));
}

/// What to know of the cycles left of each place.
void note_life(Recheck& r, const ToleranceOptions& o) {
  bool several = false;
  for (const Wear& w : r.wear) {
    several = several || (w.course.size() > 2 && w.line.dof > 0 && w.enough && !at_limit(w));
    if (w.bent && !at_limit(w)) r.notes.push_back(Message("pages.course-bent", {arg::name(w.name)}));
    if (w.seat != 0)
      r.notes.push_back(Message(w.by_seat ? "pages.limit-but-for-seat" : "pages.limit-by-seat",
                                {arg::name(w.name), arg::length(w.seat, 3, true)}));
    if (w.narrow) r.notes.push_back(Message("pages.limit-at-the-top-only", {arg::name(w.name), arg::area(o.min_area)}));
  }
  if (several) r.notes.push_back(Message("pages.earlier-of-two-lines"));
}

}  // namespace

bool history::by_scatter(const Recheck& r) { return r.inflation >= kScatters && r.datum != DatumState::untold; }

void history::describe(Recheck& r, const Drift& d, const std::vector<Record>& records, const NotCompared& not_compared,
                       const RecheckOptions& o) {
  r.cancels = cancelled(r, d);
  r.headline = headline(r, d, not_compared.empty(), o);
  tell_vanished(r);
  tell_not_compared(r, not_compared);
  if (r.now.cycles == r.then.cycles)
    r.notes.push_back(in_sequence({Message("pages.both-inspections-cycles-so", {arg::number(r.now.cycles)}),
                                   Message("pages.give-cycles-job-if")}));
  for (Message& m : doubts_of(records, r.now)) r.notes.push_back(std::move(m));
  if (r.inflation > 1.1 && !by_scatter(r))
    r.notes.push_back(Message("pages.drift-scatters-times-much", {arg::number(r.inflation, 1)}));
  note_datum(r, d);
  note_life(r, o.tolerance);
}

}  // namespace gapfront
