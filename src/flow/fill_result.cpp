// What a filling comes to, once no more resin moves.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "flow/fill_run.hpp"

namespace gapfront::flow {
namespace {

// Where air is trapped the last of the resin creeps in against its pressure: the filling counts as done when this share
// of the resin that will come has come.
constexpr double kAsGoodAsFull = 0.999;
// Resin that comes out of balance by this share in all moves no front by as much as a cell.
constexpr double kUnsettled = 1e-3;

// As the front closes on its last place the pressure rises with −ln of what is still to come, up to the pump's limit in
// all of the cavity, in less and less time: what a mesh sees of that is how large its last cells are. But the halves
// part only as fast as resin comes in between. What this last share of it brings lifts them by the same share of the
// gap at the most, 8 µm of 4 mm: less than the best U of a measured gap (10 µm). So the pressure is seen up to there;
// what a full mold is held at is another question. On a mesh whose last row of cells holds more the last step stands.
constexpr double kLastShare = 2e-3;

// The last state may be out of balance by this share of the resin that need not be followed to its end.
constexpr double kOfRest = 1e-3;

// Mean of ln v over v from a down to b: how the pressure of a step, a mean over its time, goes with what is to come.
double mean_log(double a, double b) {
  if (!(a > b * (1 + 1e-6))) return std::log(a);
  return (a * std::log(a) - (b > 0 ? b * std::log(b) : 0)) / (a - b) - 1;
}

double time_at(const std::vector<Moment>& course, double volume) {
  const auto next =
      std::lower_bound(course.begin(), course.end(), volume, [](const Moment& m, double v) { return m.volume < v; });
  if (next == course.begin()) return course.front().time;
  if (next == course.end()) return course.back().time;
  const auto& [v0, t0] = *(next - 1);
  return t0 + (volume - v0) / (next->volume - v0) * (next->time - t0);
}

}  // namespace

/// Every step until the last share of the resin is to come; there the pressures between the two steps, by the logarithm
/// of what is to come.
void Fill::show(const Step& step, double inlet) {
  double left = 0;
  for (const DryRegion& r : air_.regions()) left += r.space - (r.pocket >= 0 ? at_limit(r) : 0);
  const double before = std::max(std::isfinite(shown_.left) ? shown_.left : left + step.volume, left);
  const double log = mean_log(before, left), wanted = std::log(kLastShare * total_);
  shown_.left = left;
  if (shown_.last) return;
  if (log > wanted || shown_.pressure.empty()) {
    watch_(time_, inlet, pressure_);
    shown_.log = log, shown_.inlet = inlet, shown_.pressure = pressure_;
    return;
  }
  shown_.last = true;
  const double share = (shown_.log - wanted) / (shown_.log - log);
  const auto between = [&](double a, double b) { return a + share * (b - a); };
  for (std::size_t i = 0; i < pressure_.size(); ++i) shown_.pressure[i] = between(shown_.pressure[i], pressure_[i]);
  const double past = std::clamp((kLastShare * total_ - left) / std::max(before - left, 1e-300), 0.0, 1.0);
  watch_(time_ - past * step.time, between(shown_.inlet, inlet), shown_.pressure);
}

/// The last state, with the air as it stands.
void Fill::settle() {
  std::vector<GasPocketConstraint> none;
  // To rounding where the filling is followed to its end.
  front_.balance(kOfRest * o_.rest_fraction * total_, none);
  out_.injected = front_.entered();
  for (double v : front_.filled()) out_.resin += v;
  out_.resin += front_.bled();
}

/// Arrivals, and when it counts as done; returns when the last of the resin stands, kNever where all air gets out.
double Fill::set_times() {
  out_.arrival = arrivals_.finish(front_);
  for (double& a : out_.arrival) a = a == kNever ? kNever : a > 0 ? time_at(course_, a) : 0;
  // And so will be pressed to the pump's limit, unless it gels.
  const bool gelled = out_.supply.gelled_at < kNever, pressed = !gelled && only_pockets();
  const double last = front_.volume() + (pressed ? to_come() : 0);
  double end = kNever;
  if (has_pockets()) {
    const double most = kAsGoodAsFull * last;
    end = time_at(course_, most);
    // Beyond the last step at its rate.
    if (const auto& h = out_.history; most > course_.back().volume && !h.empty() && h.back().rate > 0)
      end += (most - course_.back().volume) / h.back().rate;
  }
  for (int i = 0; i < net_.size(); ++i)
    if (out_.arrival[i] <= end && out_.arrival[i] != kNever && out_.arrival[i] >= out_.fill_time)
      out_.fill_time = out_.arrival[i], out_.last_node = i;
  if (pressed && end != kNever) out_.fill_time = std::max(out_.fill_time, end);
  if (out_.last_node >= 0) {
    out_.last_to_vent = kNever;
    for (const auto& v : o_.vents)
      out_.last_to_vent = std::min(out_.last_to_vent, distance_to_path(sheet_.mesh.points[out_.last_node], v.path));
  }
  return end;
}

/// The dry area of a region as it stands, and its middle.
void Fill::measure(Pocket& p, const DryRegion& r) const {
  for (int i : r.nodes) {
    const double empty = 1 - front_.filled()[i] / net_.volume[i];
    p.area += sheet_.area[i] * empty;
    p.centre += sheet_.area[i] * empty * sheet_.mesh.points[i];
  }
  if (p.area > 0) p.centre /= p.area;
}

// The last of the resin goes where most of it is already.
void Fill::shrink(Pocket& p, const DryRegion& r, double end) {
  measure(p, r);
  std::vector<std::pair<double, int>> emptiness;
  for (int i : r.nodes) emptiness.emplace_back(1 - front_.filled()[i] / net_.volume[i], i);
  p.area *= p.final_volume / r.space;
  std::sort(emptiness.begin(), emptiness.end());
  double taken = 0;
  for (const auto& [empty, i] : emptiness)
    if ((taken += empty * net_.volume[i]) <= r.space - p.final_volume) out_.arrival[i] = std::min(out_.arrival[i], end);
}

void Fill::list_pockets(double end) {
  for (const auto& r : air_.regions()) {
    if (r.pocket < 0) continue;
    const auto& gas = air_.gas()[r.pocket];
    Pocket p;
    p.closed_at = gas.closed_at, p.initial_volume = gas.initial_volume, p.nodes = gas.nodes;
    p.final_volume = only_pockets() && out_.supply.gelled_at == kNever ? at_limit(r) : r.space;
    p.final_pressure = air_.pressure(r) * r.space / p.final_volume;
    shrink(p, r, end);
    std::sort(p.nodes.begin(), p.nodes.end());
    out_.pockets.push_back(std::move(p));
  }
  if (const double since = std::min(out_.supply.gelled_at, out_.supply.stands_at); since < kNever) list_left_dry(since);
  // Where no fill time was asked for, the last step is the end of what air lets in.
  const bool full_later = (out_.fill_time > 0 ? out_.fill_time : time_) > o_.gel_time;
  if (empty_at_gel_ > 0 && full_later)
    out_.pockets = std::move(dry_at_gel_);
  else
    empty_at_gel_ = 0;
  std::stable_sort(out_.pockets.begin(), out_.pockets.end(),
                   [](const auto& a, const auto& b) { return a.area > b.area; });
}

/// Resin of which no more is known than when it gels runs on to the end, which tells how long the fill takes. What is
/// empty when it gels stays so.
void Fill::note_gel_time() {
  if (!(o_.gel_time > 0) || o_.ageing.gel < kNever || empty_at_gel_ > 0 || time_ < o_.gel_time) return;
  double space = 0;
  for (const auto& r : air_.regions()) {
    space += r.space;
    if (r.pocket < 0 && r.nodes.size() < 3) continue;  // the raggedness of the front on the mesh
    Pocket p;
    p.closed_at = o_.gel_time, p.initial_volume = p.final_volume = r.space;
    p.final_pressure = air_.pressure(r), p.nodes = r.nodes;
    if (r.pocket >= 0) {
      const Gas& gas = air_.gas()[r.pocket];
      p.closed_at = gas.closed_at, p.initial_volume = gas.initial_volume, p.nodes = gas.nodes;
    }
    std::sort(p.nodes.begin(), p.nodes.end());
    measure(p, r);
    dry_at_gel_.push_back(std::move(p));
  }
  empty_at_gel_ = space / total_;
}

void Fill::warn_of_gel() {
  if (in_time(out_, o_)) return;
  if (out_.supply.gelled_at < kNever) {
    out_.warnings.push_back(Message("warnings.resin-gels-first", {arg::time(out_.supply.gelled_at),
                                                                  arg::fraction(1 - front_.volume() / total_, 0)}));
    return;
  }
  if (empty_at_gel_ > 0)
    out_.warnings.push_back(
        Message("warnings.fill-takes-longer-than",
                {arg::time(o_.gel_time), arg::fraction(empty_at_gel_, 0), arg::time(out_.fill_time)}));
}

void Fill::warn_of_dry() {
  if (out_.supply.gelled_at < kNever) return;  // said already
  double dry = 0;
  bool at_front = false;
  for (const auto& r : air_.regions()) {
    if (r.pocket >= 0) continue;
    dry += r.space;
    for (int i : r.nodes)
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) at_front = at_front || front_.full(net_.to[e]);
  }
  if (!(dry > 1e-9 * total_)) return;
  const double part = dry / total_;
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(100 * part))), 0, 7);  // two digits
  out_.warnings.push_back(Message(at_front ? "warnings.front-stalls-cavity-dry" : "warnings.resin-never-reaches-cavity",
                                  {arg::fraction(part, decimals)}));
}

bool settled(const Filling& f) { return !f.stopped && f.unsettled <= kUnsettled; }

bool in_time(const Filling& f, const FlowOptions& o) {
  if (std::isfinite(f.supply.gelled_at) && f.supply.left_dry > 0) return false;
  if (!(o.gel_time > 0 && f.fill_time > o.gel_time)) return true;
  // Whether it is only into shut-in air that resin still comes.
  std::vector<char> shut_in(f.arrival.size(), 0);
  for (const Pocket& p : f.pockets)
    if (p.closed_at < o.gel_time)
      for (const int i : p.nodes) shut_in[static_cast<std::size_t>(i)] = 1;
  for (std::size_t i = 0; i < f.arrival.size(); ++i)
    if (!shut_in[i] && std::isfinite(f.arrival[i]) && f.arrival[i] > o.gel_time) return false;
  return true;
}

double stops_at(const Filling& f, const FlowOptions& o) { return in_time(f, o) ? kNever : f.supply.gelled_at; }

}  // namespace gapfront::flow
