#include "flow/fill_run.hpp"

#include <algorithm>
#include <cmath>

#include "core/neighbours.hpp"
#include "flow/pump.hpp"
#include "flow/thin_out.hpp"
#include "gapfront/error.hpp"

namespace gapfront::flow {
namespace {

// Where a thin lane runs ahead, a step becomes shorter until the lane advances no more than so many cells in it.
constexpr int kMaxLayers = 6;
// A step in which a vent that will bleed is reached, or air is shut in, is halved down to this share of a cell, so that
// time and volume at closing are right.
constexpr double kEventCells = 0.3;
// A step whose gases do not come to balance is halved down to this share of a cell; less than that moves nothing.
constexpr double kMinCells = 1e-3;
// No step needs its resin to a smaller share of the whole; the last state is balanced anew, to rounding where
// the filling is followed to its end.
constexpr double kMinFraction = 1e-7;
// A gas is at its pressure after three rounds or four; where cells keep filling beside it the step is halved after so
// many.
constexpr int kMaxRounds = 40, kMaxRests = 400;
// What is seen from the front alone is about right: a cell is taken in before the rest is asked when it holds this
// share more than its volume, as none is given back.
constexpr double kSurely = 0.01;
// Of the resin, and of the inlet's pressure integral: what is within rounding of nothing in the last step.
constexpr double kNothing = 1e-5;
// The time that a gas had and the time that the pump takes agree to this share, as the gas's pressure does.
constexpr double kSameTime = 1e-3;

// Breadth first from the inlet; parts that it does not reach come last.
std::vector<int> outwards(const Sheet& sheet, const std::vector<int>& inlet) {
  const auto near = neighbours(sheet.mesh);
  const int n = static_cast<int>(sheet.size());
  std::vector<int> order = inlet;
  std::vector<char> seen(n, 0);
  for (int i : order) seen[i] = 1;
  std::size_t k = 0;
  for (int seed = 0; seed <= n; ++seed) {
    for (; k < order.size(); ++k)
      for (const int j : near[order[k]])
        if (!seen[j]) seen[j] = 1, order.push_back(j);
    if (seed < n && !seen[seed]) seen[seed] = 1, order.push_back(seed);
  }
  return order;
}

// What a filling needs of the sheet, its nodes in that order.
Sheet numbered(const Sheet& s, const std::vector<int>& order) {
  Sheet out;
  std::vector<int> place(order.size());
  for (std::size_t k = 0; k < order.size(); ++k) {
    const int i = order[k];
    place[i] = static_cast<int>(k);
    out.mesh.points.push_back(s.mesh.points[i]), out.area.push_back(s.area[i]), out.rim.push_back(s.rim[i]);
  }
  out.mesh.triangles = s.mesh.triangles;
  for (auto& t : out.mesh.triangles)
    for (int& i : t) i = place[i];
  return out;
}

}  // namespace

Ground::Ground(const Sheet& s, const Ports& there)
    : order(outwards(s, there.inlet)), sheet(numbered(s, order)), links(sheet) {
  std::vector<int> place(order.size());
  for (std::size_t k = 0; k < order.size(); ++k) place[order[k]] = static_cast<int>(k);
  const auto here = [&](std::vector<int> nodes) {
    for (int& i : nodes) i = place[i];
    std::sort(nodes.begin(), nodes.end());
    return nodes;
  };
  ports.inlet = here(there.inlet);
  for (const auto& vent : there.vents) ports.vents.push_back(here(vent));
  for (auto& mouth : ports.mouths = there.mouths)
    for (Mouth& m : mouth) m.node = place[m.node];
}

LaminateMap Ground::here(const LaminateMap& given) const {
  if (given.nodes.size() != sheet.size())
    throw Error(Fault::input, "flow: the laminate belongs to another sheet; evaluate it on this one");
  LaminateMap out;
  out.nodes.reserve(order.size());
  for (int i : order) out.nodes.push_back(given.nodes[i]);
  return out;
}

void Ground::back(Filling& f) const {
  const auto arrival = f.arrival;
  for (std::size_t k = 0; k < arrival.size(); ++k) f.arrival[order[k]] = arrival[k];
  if (f.last_node >= 0) f.last_node = order[f.last_node];
  for (Pocket& p : f.pockets) {
    for (int& i : p.nodes) i = order[i];
    std::sort(p.nodes.begin(), p.nodes.end());
  }
  for (auto* per_node : {&f.wet_through, &f.dry_below}) {
    const auto was = *per_node;
    for (std::size_t k = 0; k < was.size(); ++k) (*per_node)[order[k]] = was[k];
  }
}

Network joined_network(const Ground& ground, const LaminateMap& laminate, const FlowOptions& o) {
  Network net = build_network(ground.links, ground.sheet, ground.here(laminate));
  add_runners(net, ground.sheet, o.inlets);
  return net;
}

void Fill::begin() {
  const int n = net_.size();
  vented_.assign(n, 0), bleeding_.assign(n, 0);
  out_.peak_pressure.assign(n, o_.cavity_pressure);
  pressure_ = out_.peak_pressure;
  out_.vent_closed_at.assign(ports_.vents.size(), kNever);
  for (const auto& mouth : ports_.mouths) covered_.emplace_back(mouth.size(), 0);
  for (double v : net_.volume) total_ += v;
  // The inlet's own cells take the first resin at no resistance worth the name.
  time_ = pumping_time(schedule_, 0, front_.volume());
  course_.push_back({front_.volume(), time_});
  open_vents_ = mark_vented();
  sealed_ = open_vents_ == 0;
  close_vents();
  air_.relabel(front_, vented_, time_);
}

bool Fill::has_pockets() const {
  return std::any_of(air_.regions().begin(), air_.regions().end(), [](const auto& r) { return r.pocket >= 0; });
}

bool Fill::only_pockets() const {
  return std::all_of(air_.regions().begin(), air_.regions().end(), [](const auto& r) { return r.pocket >= 0; }) &&
         std::find(bleeding_.begin(), bleeding_.end(), 1) == bleeding_.end();
}

// A pocket's space once the pump has pressed it to its limit (Boyle), mm³.
double Fill::at_limit(const DryRegion& r) const {
  return r.space * std::min(1.0, air_.pressure(r) / (drive_ + o_.cavity_pressure));
}

// Resin that the pockets still take until then, mm³.
double Fill::to_come() const {
  double sum = 0;
  for (const DryRegion& r : air_.regions())
    if (r.pocket >= 0) sum += r.space - at_limit(r);
  return sum;
}

// Volume of the cells that the front is about to take, outside pockets if there is such.
double Fill::layer() const {
  double open = 0, all = 0;
  for (int i : front_.fed()) {
    all += net_.volume[i];
    if (!air_.caught(i)) open += net_.volume[i];
  }
  return open > 0 ? open : all;
}

// By how much the inlet's pressure integral grows in the next step.
double Fill::choose(const Step& last, double stride) const {
  if (!(last.integral > 0)) {
    double t = 0;
    for (int i : front_.fed())
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
        if (front_.full(net_.to[e])) t += net_.t[e];
    return layer() / t;
  }
  double volume = stride * layer();
  const double change = next_change(schedule_, front_.volume()) - front_.volume();
  // A change of rate need not be met exactly (see pumping_time), only no step should reach far across it.
  if (change > 0.1 * volume) volume = std::min(volume, change);
  // 4: the second step from an inlet takes three times the pressure integral of the first. 2: pockets come to rest
  // smoothly.
  const double growth = only_pockets() || (!drops_.empty() && front_.layers() > 0) ? 2 : 4;
  double integral = std::min(volume * last.integral / std::max(last.volume, 1e-300), growth * last.integral);
  for (double t : out_.vent_closed_at)
    if (std::isfinite(t) && t > time_)
      integral = std::min(integral, std::max((t - time_) / last.time, 0.05) * last.integral);
  if (const double gel = o_.gel_time; gel > time_)  // what is empty then is noted
    integral = std::min(integral, std::max((gel - time_) / last.time, 0.05) * last.integral);
  for (const Vent& v : o_.vents)  // closed by hand
    if (std::isfinite(v.blocked_from) && v.blocked_from > time_)
      integral = std::min(integral, std::max((v.blocked_from - time_) / last.time, 0.05) * last.integral);
  return integral;
}

// The pump gives its rate, or the pressure limit if that is slower.
double Fill::duration(double integral, double from, double to) const {
  return std::max(clock_.time_for(time_, integral + hose_ * (to - from), drive_), pumping_time(schedule_, from, to));
}

// Cells that fill as far as can be seen from the front, outside pockets. Where its own weight may bring the resin to a
// stand the first guess, which goes on as before, goes too far.
void Fill::run_ahead() {
  if (may_stand_) return;
  do front_.relax();
  while (front_.take_in([&](int i) { return !air_.caught(i); }, kSurely) > 0 && front_.layers() <= kMaxLayers);
}

// One step: which cells fill, against which gas, in what time, all in balance.
Fill::Step Fill::go(double integral, double loose, const Step& last) {
  const double from = front_.volume(), alike = last.integral > 0 ? integral / last.integral : 0;
  const bool caught = has_pockets(), heavy = !drops_.empty(), coupled = caught || heavy;
  const auto per_pascal = [&](const Step& s) { return s.time / clock_.mean(time_, s.time); };  // of a pascal
  Step step;
  step.integral = integral;
  front_.begin(front_.inlet_integral() + integral);
  step.time = duration(integral, from, from + alike * last.volume);
  if ((step.gels = o_.ageing.on() && !(time_ + step.time < clock_.gels_at()))) return step;
  air_.begin(front_, per_pascal(step));
  front_.fall(per_pascal(step));
  run_ahead();
  double before = 0, wanted_before = 0;
  for (int round = 0; !step.balanced && round < kMaxRounds; ++round) {
    front_.fall(per_pascal(step));
    const bool solved = air_.balance(front_, per_pascal(step), loose);
    step.volume = front_.volume() - from;
    loose = std::clamp(o_.loose_fraction * step.volume, std::min(loose, kMinFraction * total_), loose);
    const double wanted = duration(integral, from, from + step.volume);
    if ((step.gels = o_.ageing.on() && !(time_ + wanted < clock_.gels_at()))) return step;
    const bool calm =
        !coupled || (air_.settled(front_, per_pascal(step)) && std::abs(wanted - step.time) <= kSameTime * wanted);
    step.balanced = front_.take_in([&](int i) { return calm || !air_.caught(i); }) == 0 && calm && solved;
    // The longer a step, the more a gas pushes back, and the less the pump has to bring: Newton's step by what was
    // seen.
    const double slope = round ? std::max(0.0, (wanted_before - wanted) / (step.time - before)) : 0;
    before = step.time, wanted_before = wanted;
    step.time = coupled && !step.balanced && std::isfinite(slope) ? before + (wanted - before) / (1 + slope) : wanted;
    if (!step.balanced) run_ahead();
  }
  step.layers = front_.layers();
  return step;
}

// Resin that comes over a mouth fills the mouth's part of a cell first. What was covered once no gas uncovers.
bool Fill::covered(std::size_t vent, std::size_t k) const {
  const Mouth& m = ports_.mouths[vent][k];
  return covered_[vent][k] || front_.full(m.node) || front_.filled()[m.node] >= m.share * net_.volume[m.node];
}

// A vent passes air until its mouth is covered. Returns how many do.
int Fill::mark_vented() {
  int open = 0;
  std::fill(vented_.begin(), vented_.end(), 0);
  for (std::size_t v = 0; v < ports_.vents.size(); ++v) {
    if (time_ >= o_.vents[v].blocked_from) continue;
    bool dry = false;
    for (std::size_t k = 0; k < ports_.mouths[v].size(); ++k)
      if (!covered(v, k)) vented_[ports_.mouths[v][k].node] = 1, dry = true;
    open += dry;
  }
  return open;
}

// Then it passes resin for its bleed time, then nothing.
void Fill::close_vents() {
  std::vector<char> bleeding(net_.size(), 0);
  for (std::size_t v = 0; v < ports_.vents.size(); ++v) {
    auto& mouth = covered_[v];
    for (std::size_t k = 0; k < mouth.size(); ++k) mouth[k] = covered(v, k);
    if (std::find(mouth.begin(), mouth.end(), 0) != mouth.end()) continue;
    auto& closes = out_.vent_closed_at[v];
    if (closes == kNever) closes = std::min(time_ + o_.vents[v].bleed, std::max(time_, o_.vents[v].blocked_from));
    if (time_ < closes * (1 - 1e-9))
      for (int i : ports_.vents[v]) bleeding[i] = front_.full(i);
  }
  for (int i : ports_.inlet) bleeding[i] = 0;
  for (int i = 0; i < net_.size(); ++i) {
    if (bleeding[i] && !bleeding_[i]) front_.bleed(i);
    if (!bleeding[i] && bleeding_[i]) front_.shut(i);
  }
  bleeding_ = std::move(bleeding);
}

void Fill::record(const Step& step) {
  // Once what the last step brought too much is taken off nothing may be left of it but rounding.
  if (air_.regions().empty() && step.volume < kNothing * total_ &&
      !(step.integral > kNothing * front_.inlet_integral() && step.time > 0))
    return;
  const double per_integral = clock_.mean(time_ - step.time, step.time) / step.time;
  const double inlet = o_.cavity_pressure + per_integral * step.integral;
  // Nowhere is resin under more pressure than where it comes from, or than the air it holds: in a step as short as the
  // last one may be, what the balance left over would show as such.
  double most = inlet + deepest_;
  for (const DryRegion& r : air_.regions()) most = std::max(most, air_.pressure(r));
  for (int i = 0; i < net_.size(); ++i) {
    const double integral = front_.integral()[i] - front_.integral_before()[i];
    const int there = ground_.order[i];
    const double p = pressure_[there] = std::min(o_.cavity_pressure + per_integral * integral, most);
    if (front_.full(i)) out_.peak_pressure[there] = std::max(out_.peak_pressure[there], p);
  }
  if (watch_) show(step, inlet);
  // Mean over the step, given at its middle.
  out_.history.push_back({time_ - 0.5 * step.time, inlet - atmosphere_pa, step.volume / step.time,
                          (front_.volume() - front_.bled() - 0.5 * step.volume) / std::max(total_, 1e-300)});
  note_supply(step, inlet);
}

bool Fill::at_rest(const Step& step) const {
  if (to_come() < o_.rest_fraction * total_) return true;
  const double inlet = o_.cavity_pressure + step.integral * clock_.mean(time_ - step.time, step.time) / step.time;
  // Air that was never let out is pressed by the pump's rate at first, hardly harder than it pushes back.
  if (sealed_ && inlet < (1 - o_.pocket_rest) * (drive_ + o_.cavity_pressure)) return false;
  return std::all_of(air_.regions().begin(), air_.regions().end(),
                     [&](const DryRegion& r) { return inlet - air_.pressure(r) < o_.pocket_rest * inlet; });
}

Filling Fill::run(const Progress& progress) {
  begin();
  Step last;
  int rests = 0;
  double seen = 0, stride = o_.cells_per_step, again = 0;
  // Twenty per row of cells, and as many again to bring pockets to rest.
  const long max_steps = 1000 + 40L * std::lround(std::sqrt(double(net_.size())));
  for (long k = 0; !air_.regions().empty() && !front_.fed().empty(); ++k) {
    if (k == max_steps || rests > kMaxRests) {
      out_.stopped = true;
      break;
    }
    const double from = front_.volume(), cells = layer(), began = time_;
    const double loose = o_.loose_fraction * (last.integral > 0 ? std::min(stride * cells, last.volume) : cells);
    Step step = go(again > 0 ? again : choose(last, stride), loose, last);
    if (step.gels) {
      if (gel(step, cells, again)) break;
      continue;
    }
    if (!step.balanced && step.volume > kMinCells * cells) {
      again = 0.5 * step.integral;
      front_.undo(), air_.undo();
      continue;
    }
    time_ = began + step.time;
    const int open_vents = mark_vented();
    Air next = air_;
    next.relabel(front_, vented_, time_);
    const bool bleeds = std::any_of(o_.vents.begin(), o_.vents.end(), [](const Vent& v) { return v.bleed > 0; });
    const bool closes = bleeds && open_vents < open_vents_ && !next.regions().empty();
    const bool event = closes || next.gas().size() > air_.gas().size();
    if (event && step.volume > kEventCells * cells) {
      again = 0.5 * step.integral;
      front_.undo(), air_.undo();
      time_ = began;
      continue;
    }
    again = 0;
    open_vents_ = open_vents;
    air_ = std::move(next);
    if (air_.regions().empty()) {
      step.integral -= front_.trim();
      step.time = duration(step.integral, from, front_.volume());
      time_ = began + step.time;
    }
    if (asked_ == Asked::everything) arrivals_.note(front_, from);
    note_soaked(step);
    note_gel_time();
    record(step);
    course_.push_back({front_.volume(), time_});
    close_vents();
    stride = step.layers > kMaxLayers ? 0.6 * stride : std::min(o_.cells_per_step, 1.3 * stride);
    last = step;
    if (!step.balanced) out_.unsettled += step.volume / total_;
    if (stands(step) || (only_pockets() && at_rest(step))) break;
    rests += only_pockets();
    if (const double fraction = front_.volume() / total_; fraction > seen + 0.02)
      report_progress(progress, "flow", seen = std::min(fraction, 1.0));
  }
  settle();
  list_pockets(set_times());
  finish_supply();
  thin_out(out_.history);
  warn_of_gel();
  warn_of_dry();
  ground_.back(out_);
  return std::move(out_);
}

}  // namespace gapfront::flow
