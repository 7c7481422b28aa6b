#include "history/wear_end.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "history/life.hpp"

namespace gapfront::history {
namespace {

constexpr double kNoEndInSight = std::numeric_limits<double>::infinity();

/// The mean over the disc about a place that the verdict judges; the place's own weights where no two nodes are in it.
std::vector<double> judged_disc(const Course& c, const Vec3& at, const WornPlace& p, const RecheckOptions& o) {
  constexpr double one_wall = 0.3;  // as the verdict: normals within 72°
  const double reach = conformity::disc_across(o.tolerance) / 2;
  std::vector<int> nodes;
  for (std::size_t i = 0; i < c.sheet.size(); ++i)
    if (c.records[c.now].gap.nodes[i].measured && (c.sheet.mesh.points[i] - at).norm() <= reach &&
        c.sheet.normals[i].dot(c.sheet.normals[std::size_t(p.top)]) > one_wall)
      nodes.push_back(int(i));
  return nodes.size() < 2 ? p.core : mean_weights(c.sheet, c.records[c.now].gap, nodes);
}

/// What the seat's present movement takes of the gap over some nodes.
double seat_over(const Recheck& r, const Course& c, const std::vector<double>& h) {
  double sum = 0;
  for (std::size_t i = 0; i < h.size() && c.now > 0 && r.datum == DatumState::half_moved; ++i)
    sum += h[i] * c.since[c.now].rigid.part.effect[i];
  return sum;
}

struct Ending {
  Life life;
  bool reached = false, narrow = false;
  double limit = 0, soonest = kNoEndInSight;
};

/// With the seat's movement in the gap, or without it.
Ending ending_of(const Recheck& r, const Course& c, const WornPlace& p, const RecheckOptions& o, const Wear& w,
                 bool with_seat) {
  Ending out;
  const bool growth = o.limit > 0;
  const double seat = with_seat ? w.seat : 0, taken_out = w.seat - seat;
  const double end_gap = gap_limit(r, p.top, p.sign, w.line.at_first, o);
  out.limit = end_gap - seat;
  const NodeGap& n = c.records[seat != 0 ? c.now : 0].gap.nodes[std::size_t(p.top)];
  const double u_seat = seat != 0 ? n.u_registration : 0;
  const End end{growth ? std::copysign(o.limit, p.sign) - seat : out.limit, p.sign,
                growth   ? u_seat
                : c.held ? std::hypot(n.u_instrument, n.u_temperature)  // the course holds the registrations
                         : std::hypot(n.u_registration, n.u_instrument, n.u_temperature),
                growth};
  out.life = life_of(w.course, w.line, end, r.now.cycles);
  const Present now = present_of(c, p.core, p.inflation);
  const double room = p.sign * (end_gap - (now.value - taken_out));
  out.soonest = soonest_of(w.course, room, now.u, p.sign);
  out.reached = (out.life.enough && out.life.high <= 0) || room < -now.U;
  if (!out.reached || growth) return out;
  const std::vector<double> disc = judged_disc(c, w.worst, p, o);
  const Present judged = present_of(c, disc, p.inflation);
  const double beyond = p.sign * (judged.value - (with_seat ? 0 : seat_over(r, c, disc)) - end_gap);
  // The verdict is of the gap with the seat in it.
  if ((with_seat && r.now.verdict == to_string(Conformity::nonconforming)) || beyond > judged.U) return out;
  out.reached = false, out.narrow = true;
  const auto course = course_of(c, disc, p.inflation);
  out.soonest = soonest_of(course, -beyond, judged.u, p.sign);
  const bool bent = out.life.bent;
  if (course.size() >= 2) out.life = life_of(course, fit_line(course), end, r.now.cycles);
  if (bent) out.life = {false, true, kNoEndInSight, 0, kNoEndInSight};
  if (out.life.high <= 0) out.life.enough = false, out.life.low = 0;
  return out;
}

}  // namespace

double soonest_of(const std::vector<TrendPoint>& course, double room, double u, double sign) {
  const double pace = fastest_pace(course, sign), least = room - kOneSided * u;
  return least <= 0 ? 0 : pace > 0 ? least / pace : kNoEndInSight;
}

double gap_limit(const Recheck& r, int node, double sign, double at_first, const RecheckOptions& o) {
  if (o.limit > 0) return at_first + std::copysign(o.limit, sign);
  const NodeLimits limits = conformity::tolerance_limits(r.sheet, o.tolerance)[std::size_t(node)];
  return sign > 0 ? limits.high : limits.low;
}

void set_end(const Recheck& r, const Course& c, const WornPlace& p, const RecheckOptions& o, Wear& w) {
  w.seat = seat_over(r, c, p.core);
  Ending end = ending_of(r, c, p, o, w, true);
  if (end.reached && p.sign * w.seat > 0)
    if (const Ending alone = ending_of(r, c, p, o, w, false); !alone.reached) end = alone, w.by_seat = true;
  w.limit = end.limit, w.soonest = end.soonest, w.narrow = end.narrow;
  w.enough = end.life.enough || end.reached, w.bent = end.life.bent;
  w.left = end.reached ? 0 : end.life.left, w.left_low = end.reached ? 0 : end.life.low;
  w.left_high = end.reached ? 0 : end.life.high;
  // Dirt, or a place that was built up, comes once: two dates tell no pace.
  if (w.paceless()) w.enough = false, w.left = w.left_high = kNoEndInSight, w.left_low = 0;
  if (!w.bent) return;
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  w.rate = w.rate_U = w.mean_rate = w.mean_rate_U = none;
}

bool out_by_seat(const Recheck& r, const RecheckOptions& o) {
  if (r.datum != DatumState::half_moved || r.now.verdict != to_string(Conformity::nonconforming)) return false;
  const auto limits = conformity::tolerance_limits(r.sheet, o.tolerance);
  double with = 0, without = 0;
  for (std::size_t i = 0; i < r.sheet.size(); ++i) {
    const NodeGap& n = r.now.gap.nodes[i];
    if (!n.measured) continue;
    const auto beyond = [&](double gap) { return gap > limits[i].high || gap < limits[i].low; };
    with += beyond(n.gap) ? r.sheet.area[i] : 0;
    without += beyond(n.gap - r.rigid.effect[i]) ? r.sheet.area[i] : 0;
  }
  return without < 0.5 * with;
}

bool seat_first(const Recheck& r, const RecheckOptions& o) {
  if (r.datum != DatumState::half_moved || r.unsure) return false;
  const auto takes = [](const Wear& w) { return w.by_seat || (earliest_end(w) <= 0 && w.peak * w.seat > 0); };
  return std::any_of(r.wear.begin(), r.wear.end(), takes) || out_by_seat(r, o);
}

}  // namespace gapfront::history
