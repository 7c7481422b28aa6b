#include "gapfront/recheck.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "core/area_mean.hpp"
#include "core/neighbours.hpp"
#include "core/outline.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "history/datum.hpp"
#include "history/drift.hpp"
#include "history/not_compared.hpp"
#include "history/peak.hpp"

namespace gapfront {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// The halves count as moved when so large a rigid part has a chance below 0.5 % (a re-check is made a few times a
// year: one false alarm in the life of many tools).
constexpr double kMoved = 0.005;
// A place whose change does not separate the faces by this many sigma is said to be on both.
constexpr double kFaceSigmas = 2;

// The rigid part is that of what has not worn, as long as that is most of the sheet.
constexpr double kMostWorn = 0.5;

/// The records of one re-check, and what changed at each since the baseline (the first).
struct Course {
  const Sheet& sheet;
  std::vector<Record> records;
  std::vector<SharedFits> shared;     ///< per record
  std::vector<history::Drift> since;  ///< per record but the first
};

/// Level of a sum over the nodes at each inspection, with what the upper half's seat has changed since the baseline
/// taken out; unmeasured nodes make the date drop out.
std::vector<TrendPoint> course_of(const Course& c, const std::vector<double>& h, double inflation) {
  std::vector<TrendPoint> out;
  const std::string& first = c.records[0].instrument;
  for (std::size_t k = 0; k < c.records.size(); ++k) {
    const GapMap& gap = c.records[k].gap;
    double value = 0;
    bool all = true;
    for (std::size_t i = 0; i < h.size(); ++i) {
      if (h[i] == 0) continue;
      all = all && gap.nodes[i].measured;
      value += h[i] * (gap.nodes[i].gap - (k ? c.since[k].rigid.part.effect[i] : 0));
    }
    if (!all) continue;
    double u = 0;
    if (k == 0) {
      u = inflation * sum_errors(c.sheet, gap, c.shared[k], h).fits();
    } else {
      // What the seat's change takes along was measured at both dates.
      const auto now = c.since[k].on_rest(c.sheet, h);
      auto then = h;
      for (std::size_t i = 0; i < h.size(); ++i) then[i] -= now[i];
      const SumErrors e = sum_errors(c.sheet, gap, c.shared[k], now);
      const bool same = !c.records[k].instrument.empty() && c.records[k].instrument == first;
      u = std::hypot(inflation * std::hypot(e.fits(), sum_errors(c.sheet, c.records[0].gap, c.shared[0], then).fits()),
                     same ? 0 : e.instrument, c.since[k].carry.u(history::by_node(now)));
    }
    out.push_back({c.records[k].cycles, value, std::max(u, 1e-5)});
  }
  return out;
}

/// How far each face moved at a node, out of the cavity, tool frame: lower, upper.
std::pair<double, double> face_moves(const Sheet& sheet, const Record& now, const Record& then, int i) {
  const auto at = [&](const Record& r, double side) {
    const NodeGap& n = r.gap.nodes[i];
    return sheet.normals[i].dot(n.mid + side * 0.5 * n.gap * n.direction);
  };
  return {at(then, -1) - at(now, -1), at(now, 1) - at(then, 1)};
}

/// The lower face's share of a place's change. What the surroundings moved (the frame's own error) is taken out by the
/// median over the rest of the sheet.
void attribute(const Recheck& r, const history::Drift& d, double inflation, Wear& w) {
  std::vector<double> rest;
  for (std::size_t i = 0; i < r.sheet.size(); ++i)
    if (d.map.nodes[i].measured && !r.significant[i])
      rest.push_back(face_moves(r.sheet, r.now, r.then, static_cast<int>(i)).first);
  const double base = median(std::move(rest));
  double lower = 0;
  for (const int i : w.nodes) lower += r.sheet.area[i] / w.area * (face_moves(r.sheet, r.now, r.then, i).first - base);
  const double u = inflation * sum_errors(r.sheet, d.map, d.shared, mean_weights(r.sheet, d.map, w.nodes)).lower;
  w.lower_fraction = w.mean != 0 ? lower / w.mean : 0;
  w.lower_fraction_U = w.mean != 0 ? 2 * u / std::abs(w.mean) : 0;
  const double sigma = w.lower_fraction_U / 2;
  w.face = w.lower_fraction - kFaceSigmas * sigma > 0.5   ? "lower"
           : w.lower_fraction + kFaceSigmas * sigma < 0.5 ? "upper"
                                                          : "both";
}

Wear wear_of(const Recheck& r, const Course& c, const history::Drift& d, const history::Found& found,
             const history::Place& p, const RecheckOptions& o) {
  Wear w;
  w.nodes = p.nodes;
  double weight = 0;
  for (const int i : p.nodes) {
    const double a = r.sheet.area[i], v = r.remainder[i];
    w.area += a, w.mean += a * v;
    w.centre += a * std::abs(v) * r.sheet.mesh.points[i], weight += a * std::abs(v);
  }
  w.mean /= w.area, w.centre /= weight;
  // What the rigid part takes along (registration, most of the instrument) drops out, and what that part itself is not
  // known to comes in.
  const auto whole = mean_weights(r.sheet, d.map, p.nodes);
  w.mean_U = d.map.coverage * d.u(r.sheet, d.on_rest(r.sheet, whole), found.inflation);

  // The worst place: the top of the widest smoothing, where the noise of single nodes has least to say.
  const auto& wide = found.smooth.back();
  int top = p.nodes.front();
  for (const int i : p.nodes)
    if (p.sign * wide[i] > p.sign * wide[top]) top = i;
  const history::Peak peak = history::peak_near(r.sheet, d, top, p.sign, std::sqrt(w.area / M_PI));
  std::vector<double> core(r.sheet.size(), 0);
  for (const auto& [i, h] : peak.weights) core[i] += h, w.peak += h * r.remainder[i];
  w.worst = peak.at;
  // Spread evenly over ± the bound (JCGM 100, 4.3.7).
  const double truncation = history::kTopTruncation / std::sqrt(3.0);
  w.peak_U = d.map.coverage * std::hypot(d.u(r.sheet, d.on_rest(r.sheet, core), found.inflation), truncation * w.peak);

  std::vector<double> level(r.sheet.size(), -p.level);
  for (const int i : p.nodes) level[i] = std::max(1e-6, p.sign * wide[i]);
  w.outline = outline_of(r.sheet.mesh, level);

  w.course = course_of(c, core, found.inflation);
  double minimum = kInfinity, most = -kInfinity;
  for (const auto& t : w.course) minimum = std::min(minimum, t.cycles), most = std::max(most, t.cycles);
  w.left = w.left_high = kInfinity;
  if (w.course.size() < 2 || !(most > minimum)) return w;
  const Line line = history::fit_line(w.course);
  w.line = line, w.rate = line.rate, w.rate_U = line.t * std::hypot(line.u_rate, truncation * line.rate);
  if (const auto course = course_of(c, whole, found.inflation); course.size() >= 2) {
    const Line mean = history::fit_line(course);
    w.mean_rate = mean.rate, w.mean_rate_U = mean.t * mean.u_rate;
  }
  std::array<double, 3> when;
  if (o.limit > 0) {  // growth since the baseline: what all dates share drops out
    Line growth = line;
    growth.at_first = 0, growth.v00 = growth.v01 = 0;
    w.limit = line.at_first + std::copysign(o.limit, p.sign);
    when = history::crossing(growth, std::copysign(o.limit, p.sign), 0);
  } else {
    const NodeLimits limits = conformity::tolerance_limits(r.sheet, o.tolerance)[top];
    w.limit = p.sign > 0 ? limits.high : limits.low;
    const NodeGap& n = c.records[0].gap.nodes[top];
    when = history::crossing(line, w.limit, std::hypot(n.u_registration, n.u_instrument, n.u_temperature));
  }
  if (p.sign * w.rate <= 0) when[0] = when[2] = kInfinity;  // over all dates it goes away from the limit
  w.enough = std::abs(w.rate) > w.rate_U && std::isfinite(when[2]);
  w.left = std::max(0.0, when[0] - r.now.cycles);
  w.left_low = std::isfinite(when[1]) ? std::max(0.0, when[1] - r.now.cycles) : 0;
  w.left_high = when[2] - r.now.cycles;
  if (w.enough) w.left_high = std::max(0.0, w.left_high);
  return w;
}

/// What shall have no say in the rigid part; nothing when so much has worn that the rest no longer holds it.
std::vector<char> worn_part(const Sheet& sheet, const history::Found& found) {
  double part = 0, whole = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) part += found.worn[i] ? sheet.area[i] : 0, whole += sheet.area[i];
  return part > 0 && part <= kMostWorn * whole ? found.worn : std::vector<char>();
}

/// A number of cycles that a plan can hold, not above n: two digits, the second 0 or 5.
double round_cycles(double n) {
  if (!(n >= 1)) return 0;
  const double step = std::max(1.0, 0.5 * std::pow(10, std::floor(std::log10(n))));
  return step * std::floor(n / step);
}

/// Whole weeks from a fortnight on: the same weekday.
long round_days(double days) { return static_cast<long>(days < 14 ? days : 7 * std::floor(days / 7)); }

/// Half of the shortest time that the evidence allows, so that another look is taken before the limit can be reached.
void propose(Recheck& r, const std::vector<Record>& records, const RecheckOptions& o) {
  const auto last = std::max_element(records.begin(), records.end(),
                                     [](const Record& a, const Record& b) { return a.cycles < b.cycles; });
  if (last->cycles > r.now.cycles) {  // what to do next is said by that one
    r.next_cycles = std::numeric_limits<double>::quiet_NaN();
    r.next_why = Message("pages.later-inspection", {arg::name(last->date), arg::number(last->cycles)});
    return;
  }
  const double run = r.now.cycles - records[0].cycles;
  double low = kInfinity;
  for (const Wear& w : r.wear) low = std::min(low, w.left_low);
  if (std::isfinite(low)) {
    r.next_why = Message(low > 0 ? "pages.half-cycles-left-least" : "pages.limit-may-already-reached");
    r.next_cycles = r.now.cycles + round_cycles(0.5 * low);
  } else if (run > 0 && r.detects > 0) {
    const double room = o.limit > 0 ? o.limit : std::min(o.tolerance.minus, o.tolerance.plus);
    const double fastest = r.detects / run;
    r.next_cycles = r.now.cycles + round_cycles(0.5 * std::max(0.0, room - r.detects) / fastest);
    r.next_why = Message("pages.half-what-wear-just");
  } else {
    r.next_cycles = r.now.cycles;
    r.next_why = Message("pages.no-cycles-have-been");
    return;
  }
  const auto first = day_number(records[0].date), today = day_number(r.now.date);
  if (first && today && *today > *first && run > 0) {
    const double days = (r.next_cycles - r.now.cycles) / run * double(*today - *first);
    // Ten years: beyond that no pace holds.
    r.next_date = date_text(*today + round_days(std::min(days, 3653.0)));
  }
}

/// What drops out of the difference, and what does not.
Messages cancelled(const Recheck& r) {
  Messages out;
  const bool same = !r.now.instrument.empty() && r.now.instrument == r.then.instrument;
  out.push_back(same ? Message("pages.instruments-systematic-error-drops", {arg::name(r.now.instrument)})
                     : Message("pages.instruments-systematic-error-does"));
  out.push_back(
      in_sequence({Message("pages.registration-halves-drops-out"), Message("pages.drift-itself-both-registrations")}));
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
  out.push_back(Message("pages.nominal-tolerance-drop-out"));
  return out;
}

/// `all`: the whole face was compared.
Text headline(const Recheck& r, bool all) {
  if (r.wear.empty())
    return {
        r.datum == DatumState::steady || r.datum == DatumState::unchecked
            ? Message(all ? "pages.no-wear-nowhere-has" : "pages.no-wear-where-compared", {arg::length(r.detects, 3)})
            : Message("pages.no-wear-found-beside")};
  const Wear& w = *first_to_end(r);
  const Quantity change = arg::length(w.peak, 3, true), U = arg::length(w.peak_U, 3);
  Text out{r.wear.size() == 1 ? Message("pages.worn-one-place-changed", {arg::name(w.name), change, U})
                              : Message("pages.worn-places-first-reach",
                                        {static_cast<long>(r.wear.size()), arg::name(w.name), change, U})};
  if (!w.enough)
    out.push_back(Message("pages.there-not-enough-evidence"));
  else if (w.left_high <= 0)
    out.push_back(Message("pages.has-reached-limit"));
  else
    out.push_back(Message("pages.reaches-limit-about-cycles",
                          {arg::cycles(w.left), arg::cycles(w.left_low), arg::cycles(w.left_high)}));
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

void describe(Recheck& r, const history::Drift& d, const history::NotCompared& not_compared) {
  r.cancels = cancelled(r);
  r.headline = headline(r, not_compared.empty());
  history::tell_not_compared(r, not_compared);
  if (r.now.cycles == r.then.cycles)
    r.notes.push_back(in_sequence({Message("pages.both-inspections-cycles-so", {arg::number(r.now.cycles)}),
                                   Message("pages.give-cycles-job-if")}));
  if (r.inflation > 1.1) r.notes.push_back(Message("pages.drift-scatters-times-much", {arg::number(r.inflation, 1)}));
  note_datum(r, d);
}

}  // namespace

const Wear* first_to_end(const Recheck& r) {
  const auto first = std::min_element(r.wear.begin(), r.wear.end(), [](const Wear& a, const Wear& b) {
    return std::tuple(a.left, a.left_low) < std::tuple(b.left, b.left_low);
  });
  return first == r.wear.end() ? nullptr : &*first;
}

const char* to_string(DatumState s) {
  constexpr const char* names[] = {"steady", "unchecked", "target moved", "half moved"};
  return names[static_cast<int>(s)];
}

Recheck history::recheck(const Sheet& sheet, const std::vector<Record>& records, std::size_t now, std::size_t then,
                         const RecheckOptions& o, const FieldNull& null) {
  for (const Record& r : records)
    if (r.gap.nodes.size() != sheet.size() || r.arrival.size() != sheet.size())
      throw Error(Fault::input, "re-check: inspection of " + r.date +
                                    " is not on the common sheet; measure it on the sheet of the first");
  if (now >= records.size() || then >= records.size() || now == then)
    throw Error(Fault::input, "re-check: there is no earlier inspection to compare with; inspect the tool again later");
  Recheck r;
  Course course{sheet, records, {}, std::vector<history::Drift>(records.size())};
  // Dates from before fit areas were kept: those of the others, of the same sheet and most often of the same scanner.
  // Where no date has any, noise counts as independent from node to node, and `inflation` makes up for it.
  const std::vector<double> usual = history::fit_areas(records);
  for (Record& record : course.records) {
    for (std::size_t i = 0; i < sheet.size(); ++i)
      if (double& area = record.gap.nodes[i].fit_area; !(area > 0)) area = usual[i];
    course.shared.push_back(shared_fits(sheet, record.gap));
  }
  r.sheet = sheet, r.now = course.records[now], r.then = course.records[then];
  // Twice: what has worn is known only after the first time, and the rigid part is that of the rest.
  history::Drift d = history::drift_of(sheet, r.now, r.then);
  const history::Found found = history::find_places(sheet, d, null, o.min_area);
  const std::vector<char> worn = worn_part(sheet, found);
  if (!worn.empty()) d = history::drift_of(sheet, r.now, r.then, worn);
  for (std::size_t k = 1; k < records.size(); ++k)
    course.since[k] = history::drift_of(sheet, course.records[k], course.records[0], worn);
  r.drift = d.value, r.remainder = d.rest, r.rigid = d.rigid.part, r.rigid_p = d.rigid_p;
  r.U.assign(sheet.size(), std::numeric_limits<double>::quiet_NaN());
  r.u_transform = r.U, r.transform_targets = d.carry.targets;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (d.map.nodes[i].measured) r.U[i] = d.map.nodes[i].U, r.u_transform[i] = d.carry.u({{static_cast<int>(i), 1.0}});

  const auto moved = history::moved_targets(r.now, r.then);
  if (moved) r.moved = *moved;
  r.datum = !r.moved.empty()     ? DatumState::target_moved
            : d.rigid_p < kMoved ? DatumState::half_moved
            : !moved             ? DatumState::unchecked
                                 : DatumState::steady;

  r.detects = found.detects, r.inflation = found.inflation;
  r.significant.assign(sheet.size(), 0);
  for (const auto& p : found.places) {
    Wear w = wear_of(r, course, d, found, p, o);
    if (std::abs(w.mean) <= w.mean_U) continue;
    for (const int i : w.nodes) r.significant[i] = 1;
    r.wear.push_back(std::move(w));
  }
  std::stable_sort(r.wear.begin(), r.wear.end(),
                   [](const Wear& a, const Wear& b) { return std::abs(a.mean) * a.area > std::abs(b.mean) * b.area; });
  for (std::size_t k = 0; k < r.wear.size(); ++k) {
    r.wear[k].name = "W" + std::to_string(k + 1);
    attribute(r, d, found.inflation, r.wear[k]);
  }
  Filling before, after;
  before.arrival = r.then.arrival, before.fill_time = r.then.fill_time;
  after.arrival = r.now.arrival, after.fill_time = r.now.fill_time;
  r.front = flow::compare_fillings(sheet, before, after);
  propose(r, records, o);
  describe(r, d, history::not_compared(sheet, r.now.gap, r.then.gap, o.tolerance));
  return r;
}

}  // namespace gapfront
