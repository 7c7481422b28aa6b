#include "history/vanished.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "history/peak.hpp"
#include "history/seat.hpp"
#include "history/wear_end.hpp"

namespace gapfront::history {
namespace {

// The rigid part is that of what has not worn, as long as that is most of the sheet.
constexpr double kMostWorn = 0.5;
// A change that counts as known to have been there: what is hardly above its U comes and goes by chance.
constexpr double kCertain = 2;
constexpr double kGone = 0.5;  // of the change

/// One earlier date, as its own re-check would have found it.
struct Earlier {
  Drift d;
  Found found;
  bool told = false;  ///< places may be named
};

Earlier earlier_at(const Course& c, std::size_t k, const FieldNull& null, double min_area) {
  Earlier e;
  const Record &then = c.records[0], &at = c.records[k];
  e.d = drift_of(c.sheet, at, then), e.found = find_places(c.sheet, e.d, null, min_area);
  if (e.found.places.empty()) return e;
  if (const auto worn = worn_part(c.sheet, e.found); !worn.empty()) e.d = drift_of(c.sheet, at, then, worn);
  const Seat seat = seat_of(c.sheet, at, then, e.d, e.found, true);
  e.told = seat != Seat::untold && e.found.inflation < kScatters;
  if (seat == Seat::worn) e.d = held_drift(c.sheet, at, then), e.found = find_places(c.sheet, e.d, null, min_area);
  return e;
}

/// The same dates with nothing rigid taken out, or with it.
Course otherwise(const Course& c) {
  Course out = c;
  out.held = !c.held;
  for (std::size_t k = 1; k < c.records.size(); ++k)
    out.since[k] =
        out.held ? held_drift(c.sheet, c.records[k], c.records[0]) : drift_of(c.sheet, c.records[k], c.records[0]);
  return out;
}

/// The place, where it was there at date k and is gone at the next.
void look_at(const Recheck& r, const Course& c, std::size_t k, const Earlier& e, const Place& p,
             const RecheckOptions& o, std::vector<Vanished>& out) {
  double area = 0;
  int top = p.nodes.front();
  const auto& wide = e.found.smooth.back();
  for (const int i : p.nodes) {
    area += c.sheet.area[i];
    if (p.sign * wide[i] > p.sign * wide[top]) top = i;
  }
  const Peak peak = peak_near(c.sheet, e.d, {top, p.sign, std::sqrt(area / M_PI), p.nodes.size(), e.found.inflation});
  std::vector<double> h(c.sheet.size(), 0);
  for (const auto& [i, v] : peak.weights) h[i] += v;
  std::vector<std::size_t> which;
  const auto course = course_of(c, h, e.found.inflation, &which);
  const auto point = [&](std::size_t date) { return std::find(which.begin(), which.end(), date) - which.begin(); };
  const auto count = static_cast<std::ptrdiff_t>(which.size());
  const auto at = point(k), today = point(c.now);
  if (which.empty() || which[0] != 0 || at == count || today == count || at + 1 > today) return;
  const auto change = [&](std::ptrdiff_t j) { return p.sign * (course[j].value - course[0].value); };
  const auto U = [&](std::ptrdiff_t a, std::ptrdiff_t b) { return 2 * std::hypot(course[a].u, course[b].u); };
  const double was = change(at), then = change(at + 1), left = change(today);
  if (was < kCertain * U(at, 0) || was - then < kCertain * U(at, at + 1) || then > kGone * was) return;
  if (left > was - U(at, today)) return;  // it has come back
  Vanished v;
  v.at = peak.at, v.was = p.sign * was, v.was_U = U(at, 0), v.left = p.sign * left;
  const Record &seen = c.records[k], &gone = c.records[which[std::size_t(at) + 1]];
  v.date = seen.date, v.cycles = seen.cycles, v.gone = gone.date, v.gone_cycles = gone.cycles;
  const double end = gap_limit(r, top, p.sign, course[0].value, o);
  const Present now = present_of(c, h, e.found.inflation);
  v.soonest = soonest_of(course, p.sign * (end - now.value), now.u, p.sign);
  out.push_back(v);
}

}  // namespace

std::vector<char> worn_part(const Sheet& sheet, const Found& found) {
  double part = 0, whole = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) part += found.worn[i] ? sheet.area[i] : 0, whole += sheet.area[i];
  return part > 0 && part <= kMostWorn * whole ? found.worn : std::vector<char>();
}

std::vector<Vanished> vanished_places(const Recheck& r, const Course& c, const FieldNull& null,
                                      const RecheckOptions& o) {
  std::vector<Vanished> out;
  std::vector<Course> other;  // only where a date needs it
  for (std::size_t k = 1; k < c.now; ++k) {
    const Earlier e = earlier_at(c, k, null, o.min_area);
    if (!e.told) continue;
    if (e.d.held != c.held && other.empty()) other.push_back(otherwise(c));
    for (const Place& p : e.found.places) look_at(r, e.d.held == c.held ? c : other[0], k, e, p, o, out);
  }
  std::stable_sort(out.begin(), out.end(), [](const Vanished& a, const Vanished& b) {
    return std::tuple(b.gone_cycles, b.gone, std::abs(b.was)) < std::tuple(a.gone_cycles, a.gone, std::abs(a.was));
  });
  return out;
}

}  // namespace gapfront::history
