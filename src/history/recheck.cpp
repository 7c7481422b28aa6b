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
#include "history/life.hpp"
#include "history/not_compared.hpp"
#include "history/peak.hpp"
#include "history/propose.hpp"
#include "history/seat.hpp"
#include "history/words.hpp"

namespace gapfront {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
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
  bool held = false;                  ///< no rigid part is taken out at any date
  std::size_t now = 0;                ///< of `records`
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
      const SumErrors e = sum_errors(c.sheet, gap, c.shared[k], h);
      u = std::hypot(inflation * e.fits(), c.held ? e.registration : 0);
    } else {
      // What the seat's change takes along was measured at both dates.
      const auto now = c.since[k].on_rest(c.sheet, h);
      auto then = h;
      for (std::size_t i = 0; i < h.size(); ++i) then[i] -= now[i];
      const SumErrors e = sum_errors(c.sheet, gap, c.shared[k], now);
      const bool same = !c.records[k].instrument.empty() && c.records[k].instrument == first;
      u = std::hypot(inflation * std::hypot(e.fits(), sum_errors(c.sheet, c.records[0].gap, c.shared[0], then).fits()),
                     std::hypot(same ? 0 : e.instrument, c.held ? e.registration : 0),
                     c.since[k].carry.u(history::by_node(now)));
    }
    out.push_back({c.records[k].cycles, value, std::max(u, 1e-5)});
  }
  return out;
}

/// The lower face's share of a place's change. What the surroundings moved (the frame's own error) is taken out by the
/// median over the rest of the sheet.
void attribute(const Recheck& r, const history::Drift& d, double inflation, Wear& w) {
  std::vector<double> rest;
  for (std::size_t i = 0; i < r.sheet.size(); ++i)
    if (d.map.nodes[i].measured && !r.significant[i])
      rest.push_back(history::face_moves(r.sheet, r.now, r.then, static_cast<int>(i)).first);
  const double base = d.held || rest.empty() ? 0 : median(std::move(rest));  // of a wide wear the rest is worn in part
  double lower = 0;
  for (const int i : w.nodes)
    lower += r.sheet.area[i] / w.area * (history::face_moves(r.sheet, r.now, r.then, i).first - base);
  const double u = inflation * sum_errors(r.sheet, d.map, d.shared, mean_weights(r.sheet, d.map, w.nodes)).lower;
  w.lower_fraction = w.mean != 0 ? lower / w.mean : 0;
  w.lower_fraction_U = w.mean != 0 ? 2 * u / std::abs(w.mean) : 0;
  const double sigma = w.lower_fraction_U / 2;
  w.face = w.lower_fraction - kFaceSigmas * sigma > 0.5   ? "lower"
           : w.lower_fraction + kFaceSigmas * sigma < 0.5 ? "upper"
                                                          : "both";
}

/// What the gap is now over some nodes, as the verdict judges it: nothing rigid is taken out.
struct Present {
  double value = 0, U = 0;
};
Present present_of(const Course& c, const std::vector<double>& h, double inflation) {
  const GapMap& gap = c.records[c.now].gap;
  Present out;
  for (std::size_t i = 0; i < h.size(); ++i)
    if (h[i] != 0) out.value += h[i] * gap.nodes[i].gap;
  const SumErrors e = sum_errors(c.sheet, gap, c.shared[c.now], h);
  out.U = gap.coverage * std::hypot(inflation * e.fits(), e.common());
  return out;
}

/// The mean over the disc about a place that the verdict judges; the place's own weights where no two nodes are in it.
std::vector<double> judged_disc(const Course& c, const Vec3& at, int top, const RecheckOptions& o,
                                const std::vector<double>& core) {
  constexpr double one_wall = 0.3;  // as the verdict: normals within 72°
  const double reach = conformity::disc_across(o.tolerance) / 2;
  std::vector<int> nodes;
  for (std::size_t i = 0; i < c.sheet.size(); ++i)
    if (c.records[c.now].gap.nodes[i].measured && (c.sheet.mesh.points[i] - at).norm() <= reach &&
        c.sheet.normals[i].dot(c.sheet.normals[std::size_t(top)]) > one_wall)
      nodes.push_back(int(i));
  return nodes.size() < 2 ? core : mean_weights(c.sheet, c.records[c.now].gap, nodes);
}

/// Cycles in which the fastest credible pace of a course uses up what is left.
double soonest_of(const std::vector<TrendPoint>& course, double room, double sign) {
  const double pace = history::fastest_pace(course, sign);
  return room <= 0 ? 0 : pace > 0 ? room / pace : kInfinity;
}

/// Cycles left until the limit that the verdict judges by: the gap with the seat's present movement in it. That the
/// limit is reached is said where the verdict says so too, or a disc of the least area that it judges proves it.
void set_life(const Recheck& r, const Course& c, const history::Found& found, const std::vector<double>& core, int top,
              double sign, const RecheckOptions& o, Wear& w) {
  for (std::size_t i = 0; i < core.size() && c.now > 0 && r.datum == DatumState::half_moved; ++i)
    w.seat += core[i] * c.since[c.now].rigid.part.effect[i];
  const Present now = present_of(c, core, found.inflation);
  const NodeLimits limits = conformity::tolerance_limits(r.sheet, o.tolerance)[std::size_t(top)];
  const double by_verdict = sign > 0 ? limits.high : limits.low, since = std::copysign(o.limit, sign);
  const bool growth = o.limit > 0;
  w.limit = (growth ? w.line.at_first + since : by_verdict) - w.seat;
  const NodeGap& n = c.records[w.seat != 0 ? c.now : 0].gap.nodes[std::size_t(top)];
  const double u_seat = w.seat != 0 ? n.u_registration : 0;
  const history::End end{growth ? since - w.seat : w.limit, sign,
                         growth   ? u_seat
                         : c.held ? std::hypot(n.u_instrument, n.u_temperature)  // the course holds the registrations
                                  : std::hypot(n.u_registration, n.u_instrument, n.u_temperature),
                         growth};
  history::Life life = history::life_of(w.course, w.line, end, r.now.cycles);
  // How far the gap as it is stands from its end.
  const double room = growth ? sign * (w.limit + w.seat - now.value) : sign * (by_verdict - now.value);
  w.soonest = soonest_of(w.course, room, sign);
  bool reached = (life.enough && life.high <= 0) || room < -now.U;
  if (reached && !growth) {
    const std::vector<double> disc = judged_disc(c, w.worst, top, o, core);
    const Present judged = present_of(c, disc, found.inflation);
    if (r.now.verdict != to_string(Conformity::nonconforming) && sign * (judged.value - by_verdict) <= judged.U) {
      reached = false, w.narrow = true;
      const auto course = course_of(c, disc, found.inflation);
      w.soonest = soonest_of(course, sign * (by_verdict - judged.value), sign);
      if (course.size() >= 2) life = history::life_of(course, history::fit_line(course), end, r.now.cycles);
      if (life.high <= 0) life.enough = false, life.low = 0;
    }
  }
  w.enough = life.enough || reached, w.bent = life.bent && !reached;
  w.left = reached ? 0 : life.left, w.left_low = reached ? 0 : life.low, w.left_high = reached ? 0 : life.high;
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
  set_life(r, c, found, core, top, p.sign, o, w);
  return w;
}

/// What shall have no say in the rigid part; nothing when so much has worn that the rest no longer holds it.
std::vector<char> worn_part(const Sheet& sheet, const history::Found& found) {
  double part = 0, whole = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) part += found.worn[i] ? sheet.area[i] : 0, whole += sheet.area[i];
  return part > 0 && part <= kMostWorn * whole ? found.worn : std::vector<char>();
}

}  // namespace

const Wear* first_to_end(const Recheck& r) {
  const auto first = std::min_element(r.wear.begin(), r.wear.end(), [](const Wear& a, const Wear& b) {
    return std::tuple(a.left, a.left_low) < std::tuple(b.left, b.left_low);
  });
  return first == r.wear.end() ? nullptr : &*first;
}

const char* to_string(DatumState s) {
  constexpr const char* names[] = {"steady", "unchecked", "target moved", "half moved", "not told"};
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
  course.now = now;
  // Twice: what has worn is known only after the first time, and the rigid part is that of the rest.
  history::Drift d = history::drift_of(sheet, r.now, r.then);
  history::Found found = history::find_places(sheet, d, null, o.min_area);
  const std::vector<char> worn = worn_part(sheet, found);
  if (!worn.empty()) d = history::drift_of(sheet, r.now, r.then, worn);
  // Errors that neighbours share are in the targets' places as they are in the faces'.
  const auto moved = history::moved_targets(r.now, r.then, found.inflation);
  if (moved) r.moved = *moved;
  const history::Seat seat = history::seat_of(sheet, r.now, r.then, d, found, r.moved.empty());
  r.datum = !r.moved.empty()                ? DatumState::target_moved
            : seat == history::Seat::untold ? DatumState::untold
            : seat == history::Seat::moved  ? DatumState::half_moved
            : !moved                        ? DatumState::unchecked
                                            : DatumState::steady;
  course.held = seat == history::Seat::worn;
  if (course.held)
    d = history::held_drift(sheet, r.now, r.then), found = history::find_places(sheet, d, null, o.min_area);
  for (std::size_t k = 1; k < records.size(); ++k)
    course.since[k] = course.held ? history::held_drift(sheet, course.records[k], course.records[0])
                                  : history::drift_of(sheet, course.records[k], course.records[0], worn);
  r.unsure = seat == history::Seat::untold || found.inflation >= history::kScatters;
  r.drift = d.value, r.remainder = d.rest, r.rigid = d.rigid.part, r.rigid_p = d.rigid_p;
  r.U.assign(sheet.size(), std::numeric_limits<double>::quiet_NaN());
  r.u_transform = r.U, r.transform_targets = d.carry.targets;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (d.map.nodes[i].measured) r.U[i] = d.map.nodes[i].U, r.u_transform[i] = d.carry.u({{static_cast<int>(i), 1.0}});

  r.detects = found.detects, r.inflation = found.inflation;
  r.significant.assign(sheet.size(), 0);
  for (const auto& p : found.places) {
    if (r.unsure) break;  // no place, face or cycles that may not hold
    Wear w = wear_of(r, course, d, found, p, o);
    if (std::abs(w.mean) <= w.mean_U || std::abs(w.peak) <= w.peak_U) continue;
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
  history::propose(r, records, o);
  history::describe(r, d, records, history::not_compared(sheet, r.now.gap, r.then.gap, o.tolerance), o.tolerance);
  if (then != 0 && now != 0 && std::isfinite(r.next_cycles)) {  // what comes next hangs on the baseline and all dates
    const Recheck base = history::recheck(sheet, records, now, 0, o, null);
    r.next_cycles = base.next_cycles, r.next_date = base.next_date, r.next_why = base.next_why;
  }
  return r;
}

}  // namespace gapfront
