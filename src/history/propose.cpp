#include "history/propose.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/statistics.hpp"

namespace gapfront::history {
namespace {

constexpr double kNoEnd = std::numeric_limits<double>::infinity();
// Of the face may be nearer to its limit than what is counted as left: single noisy places.
constexpr double kNearest = 0.05;

/// A number of cycles that a plan can hold, not above n: two digits, the second 0 or 5.
double round_cycles(double n) {
  if (!(n >= 1)) return 0;
  const double step = std::max(1.0, 0.5 * std::pow(10, std::floor(std::log10(n))));
  return step * std::floor(n / step);
}

/// Whole weeks from a fortnight on: the same weekday.
long round_days(double days) { return static_cast<long>(days < 14 ? days : 7 * std::floor(days / 7)); }

/// How much the gap as it is may still change before a limit, mm. Places that are at a limit or beyond it have none
/// left, and are the verdict's to tell: they hold no plan for the rest of the face.
double room_of(const Recheck& r, const RecheckOptions& o) {
  if (o.limit > 0) return o.limit;
  const auto limits = conformity::tolerance_limits(r.sheet, o.tolerance);
  std::vector<std::pair<double, double>> room;
  for (std::size_t i = 0; i < r.sheet.size(); ++i) {
    const NodeGap& n = r.now.gap.nodes[i];
    if (!n.measured || !std::isfinite(limits[i].low)) continue;
    const double left = std::min(limits[i].high - n.gap, n.gap - limits[i].low);
    if (left > r.detects) room.push_back({left, r.sheet.area[i]});
  }
  return room.empty() ? std::min(o.tolerance.minus, o.tolerance.plus) : weighted_percentile(room, kNearest);
}

}  // namespace

void propose(Recheck& r, const std::vector<Record>& records, const RecheckOptions& o, double by_seat) {
  const auto last = std::max_element(records.begin(), records.end(),
                                     [](const Record& a, const Record& b) { return a.cycles < b.cycles; });
  const double none = std::numeric_limits<double>::quiet_NaN();
  if (last->cycles > r.now.cycles) {  // what to do next is said by that one
    r.next_cycles = none;
    r.next_why = Message("pages.later-inspection", {arg::name(last->date), arg::number(last->cycles)});
    return;
  }
  if (r.unsure) {
    r.next_cycles = none;
    r.next_why = Message(by_scatter(r) ? "pages.scan-again-less-noise" : "pages.find-out-seat-or-wear");
    return;
  }
  if (r.seat_first) {
    r.next_cycles = none;
    const bool worn = std::any_of(r.wear.begin(), r.wear.end(), at_limit);
    r.next_why = Message(worn ? "pages.seat-first-then-mend" : "pages.seat-first");
    return;
  }
  if (std::any_of(r.wear.begin(), r.wear.end(), at_limit)) {
    const bool worn =
        std::any_of(r.wear.begin(), r.wear.end(), [](const Wear& w) { return at_limit(w) && w.peak > 0; });
    r.next_cycles = none;
    r.next_why = Message(worn ? "pages.mend-place-before-more" : "pages.clean-place-before-more");
    return;
  }
  const double run = r.now.cycles - records[0].cycles;
  if (!(run > 0) || (r.wear.empty() && !(r.detects > 0))) {
    r.next_cycles = r.now.cycles;
    r.next_why = Message("pages.no-cycles-have-been");
    return;
  }
  double low = kNoEnd;
  const char* none_left = "";  // what to do where no cycle is left for certain
  const auto sooner = [&](double end, const char* why, const char* none_left_then) {
    if (end < low) low = end, r.next_why = Message(why), none_left = none_left_then;
  };
  for (const Wear& w : r.wear) {
    const double end = w.paceless() ? w.soonest : earliest_end(w);  // a deposit may grow on
    sooner(end, w.line.dof > 0 && end == w.soonest ? "pages.half-at-fastest-pace" : "pages.half-cycles-left-least",
           w.peak < 0 ? "pages.clean-place-before-more" : "pages.limit-may-already-reached");
  }
  for (const Vanished& v : r.vanished)
    sooner(v.soonest, "pages.half-at-fastest-pace", "pages.limit-may-already-reached");
  if (!std::isfinite(low))
    sooner(std::max(0.0, room_of(r, o) - r.detects) / (r.detects / run), "pages.half-what-wear-just",
           "pages.unseen-wear-may-reach");
  sooner(by_seat, "pages.half-as-seat-moves", "pages.seat-first");
  const double ahead = round_cycles(std::min(0.5 * low, run));
  if (0.5 * low > run) r.next_why = Message("pages.no-farther-than-run", {arg::cycles(run)});
  if (!(ahead > 0)) r.next_why = Message(none_left);
  r.next_cycles = r.now.cycles + ahead;
  const auto first = day_number(records[0].date), today = day_number(r.now.date);
  if (first && today && *today > *first) {
    const double days = (r.next_cycles - r.now.cycles) / run * double(*today - *first);
    // Ten years: beyond that no pace holds.
    r.next_date = date_text(*today + round_days(std::min(days, 3653.0)));
  }
}

}  // namespace gapfront::history
