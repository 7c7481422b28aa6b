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
#include "history/course.hpp"
#include "history/datum.hpp"
#include "history/drift.hpp"
#include "history/not_compared.hpp"
#include "history/peak.hpp"
#include "history/propose.hpp"
#include "history/seat.hpp"
#include "history/vanished.hpp"
#include "history/wear_end.hpp"
#include "history/words.hpp"

namespace gapfront {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// A place whose change does not separate the faces by this many sigma is said to be on both.
constexpr double kFaceSigmas = 2;
// A change of less than this many U may be a chance place: beside others it does not lead.
constexpr double kPlain = 2;

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

/// `by_noise`: U of the greatest change but for its shape.
Wear wear_of(const Recheck& r, const history::Course& c, const history::Drift& d, const history::Found& found,
             const history::Place& p, const RecheckOptions& o, double& by_noise) {
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
  const history::Peak peak =
      history::peak_near(r.sheet, d, {top, p.sign, std::sqrt(w.area / M_PI), p.nodes.size(), found.inflation});
  std::vector<double> core(r.sheet.size(), 0);
  for (const auto& [i, h] : peak.weights) core[i] += h, w.peak += h * r.remainder[i];
  w.worst = peak.at;
  const double shape = peak.u_shape(w.peak), u = d.u(r.sheet, d.on_rest(r.sheet, core), found.inflation);
  w.peak_U = d.map.coverage * std::hypot(u, shape * w.peak), by_noise = d.map.coverage * u;

  std::vector<double> level(r.sheet.size(), -p.level);
  for (const int i : p.nodes) level[i] = std::max(1e-6, p.sign * wide[i]);
  w.outline = outline_of(r.sheet.mesh, level);

  w.course = history::course_of(c, core, found.inflation);
  double minimum = kInfinity, most = -kInfinity;
  for (const auto& t : w.course) minimum = std::min(minimum, t.cycles), most = std::max(most, t.cycles);
  w.left = w.left_high = kInfinity;
  if (w.course.size() < 2 || !(most > minimum)) return w;
  const Line line = history::fit_line(w.course);
  w.line = line, w.rate = line.rate, w.rate_U = line.t * std::hypot(line.u_rate, shape * line.rate);
  if (const auto course = history::course_of(c, whole, found.inflation); course.size() >= 2) {
    const Line mean = history::fit_line(course);
    w.mean_rate = mean.rate, w.mean_rate_U = mean.t * mean.u_rate;
  }
  history::set_end(r, c, {core, top, p.sign, found.inflation}, o, w);
  return w;
}

void check_records(const Sheet& sheet, const std::vector<Record>& all, std::size_t now, std::size_t then) {
  for (const Record& r : all)
    if (r.gap.nodes.size() != sheet.size() || r.arrival.size() != sheet.size())
      throw Error(Fault::input, "re-check: inspection of " + r.date +
                                    " is not on the common sheet; measure it on the sheet of the first");
  if (now >= all.size() || then >= all.size() || now == then)
    throw Error(Fault::input, "re-check: there is no earlier inspection to compare with; inspect the tool again later");
}

const Record& later_of(const Record& a, const Record& b) { return history::is_later(b, a) ? b : a; }

/// The baseline and what is not later than both dates, which become indices into it. Later dates say nothing of what
/// was known then, and a re-check of today must not change by those of tomorrow.
std::vector<Record> known_at(const std::vector<Record>& all, std::size_t& now, std::size_t& then) {
  const Record& last = later_of(all[now], all[then]);
  std::vector<Record> out;
  std::size_t now_known = now, then_known = then;
  for (std::size_t k = 0; k < all.size(); ++k) {
    if (k != 0 && k != now && k != then && history::is_later(all[k], last)) continue;
    if (k == now) now_known = out.size();
    if (k == then) then_known = out.size();
    out.push_back(all[k]);
  }
  now = now_known, then = then_known;
  return out;
}

}  // namespace

bool at_limit(const Wear& w) { return w.enough && w.left_high <= 0; }

double earliest_end(const Wear& w) {
  if (w.paceless()) return kInfinity;
  double out = at_limit(w) ? 0 : kInfinity;
  // A change that goes away from the limit reaches none.
  if (w.straight() && w.peak * w.line.rate > 0) out = std::min(out, w.left_low);
  return w.line.dof > 0 || w.bent ? std::min(out, w.soonest) : out;
}

const Wear* first_to_end(const Recheck& r) {
  const auto order = [](const Wear& w) {
    const bool speck = std::abs(w.peak) < kPlain * w.peak_U && std::abs(w.mean) < kPlain * w.mean_U;
    return std::tuple(!at_limit(w) && !w.by_seat, speck, earliest_end(w), -std::abs(w.peak));
  };
  const auto first =
      std::min_element(r.wear.begin(), r.wear.end(), [&](const Wear& a, const Wear& b) { return order(a) < order(b); });
  return first == r.wear.end() ? nullptr : &*first;
}

std::pair<int, double> latest_front(const Recheck& r) {
  std::pair<int, double> out{-1, 0};
  for (std::size_t i = 0; i < r.front.seconds.size(); ++i)
    if (const double late = -r.front.seconds[i]; std::isfinite(late) && late > out.second)
      out = {static_cast<int>(i), late};
  return out;
}

const char* to_string(DatumState s) {
  constexpr const char* names[] = {"steady", "unchecked", "target moved", "half moved", "not told"};
  return names[static_cast<int>(s)];
}

Recheck history::recheck(const Sheet& sheet, const std::vector<Record>& all, std::size_t now, std::size_t then,
                         const RecheckOptions& o, const FieldNull& null, const Recheck* since_baseline) {
  check_records(sheet, all, now, then);
  if (since_baseline && then == 0) return *since_baseline;
  const std::vector<Record> records = known_at(all, now, then);
  Recheck r;
  history::Course course{sheet, records, {}, std::vector<history::Drift>(records.size())};
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
  const std::vector<char> worn = history::worn_part(sheet, found);
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
    double by_noise = 0;
    Wear w = wear_of(r, course, d, found, p, o, by_noise);
    if (std::abs(w.mean) <= w.mean_U || std::abs(w.peak) <= by_noise) continue;
    // How sharp its top is has no say in whether a place is there that is plain in the mean.
    if (std::abs(w.peak) <= w.peak_U && std::abs(w.mean) < kPlain * w.mean_U) continue;
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
  r.seat_first = history::seat_first(r, o);
  if (!r.unsure) r.vanished = history::vanished_places(r, course, null, o);
  r.rows_sha256 = history::rows_sha256(records, later_of(r.now, r.then));
  history::propose(r, all, o, history::soonest_by_seat(r, course, o));
  history::describe(r, d, all, history::not_compared(sheet, r.now.gap, r.then.gap, o.tolerance), o);
  if (then != 0 && now != 0 && std::isfinite(r.next_cycles)) {  // what comes next hangs on the baseline and all dates
    const Recheck base = since_baseline ? *since_baseline : history::recheck(sheet, all, now, 0, o, null);
    r.next_cycles = base.next_cycles, r.next_date = base.next_date, r.next_why = base.next_why;
  }
  return r;
}

}  // namespace gapfront
