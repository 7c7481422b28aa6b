// The filling in time: what the pump does, what the air does, when vents close.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "flow/air.hpp"
#include "flow/arrival.hpp"
#include "flow/margin.hpp"
#include "flow/pump.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// Where a thin lane runs ahead, a step becomes shorter until the lane advances no more than so many cells in it.
constexpr int max_layers = 6;
// A step in which a vent that will bleed is reached, or air is shut in, is halved down to this share of a cell, so that
// time and volume at closing are right.
constexpr double event_cells = 0.3;
// A step whose gases do not come to balance is halved down to this share of a cell; less than that moves nothing.
constexpr double min_cells = 1e-3;
// No step needs its resin to a smaller share of the whole; the last state is balanced to rounding anyway.
constexpr double min_fraction = 1e-7;
// A gas is at its pressure after three rounds or four; where cells keep filling beside it the step is halved after so
// many.
constexpr int max_rounds = 40, max_rests = 400;
// The time that a gas had and the time that the pump takes agree to this share, as the gas's pressure does.
constexpr double same_time = 1e-3;
// Where air is trapped the last of the resin creeps in against its pressure: the filling counts as done when this share
// of the resin that will come has come.
constexpr double as_good_as_full = 0.999;
constexpr std::size_t max_samples = 400;  // history samples kept: finer than any chart

struct Moment {
  double volume, time;  // mm³ injected, s
};

double time_at(const std::vector<Moment>& course, double volume) {
  const auto next =
      std::lower_bound(course.begin(), course.end(), volume, [](const Moment& m, double v) { return m.volume < v; });
  if (next == course.begin()) return course.front().time;
  if (next == course.end()) return course.back().time;
  const auto& [v0, t0] = *(next - 1);
  return t0 + (volume - v0) / (next->volume - v0) * (next->time - t0);
}

Network joined_network(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o) {
  Network net = build_network(sheet, laminate);
  add_runners(net, sheet, o.inlets);
  return net;
}

class Fill {
 public:
  Fill(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o, const PressureWatch& watch)
      : sheet_(sheet),
        o_(o),
        watch_(watch),
        ports_(find_ports(sheet, o)),
        net_(joined_network(sheet, laminate, o)),
        front_(net_, ports_.inlet),
        arrivals_(sheet, net_, ports_.inlet),
        air_(net_, o.cavity_pressure) {}
  Filling run(const Progress& progress);

 private:
  struct Step {
    double integral = 0, volume = 0, time = 0;  // of the inlet; mm³; s
    int layers = 0;                             // of cells that filled one after the other
    bool balanced = false;                      // every gas is at its pressure
  };

  void begin();
  double layer() const;
  double choose(const Step& last, double stride) const;
  void run_ahead();
  Step go(double integral, double loose, const Step& last);
  double duration(double integral, double from, double to) const;
  int mark_vented();
  void close_vents();
  void record(const Step& step);
  bool at_rest(const Step& step) const;
  bool has_pockets() const;
  bool only_pockets() const;
  double at_limit(const DryRegion&) const;
  double to_come() const;
  void shrink(Pocket&, const DryRegion&, double end);
  void finish();

  const Sheet& sheet_;
  const FlowOptions& o_;
  const PressureWatch& watch_;
  Ports ports_;
  Network net_;
  Front front_;
  Arrivals arrivals_;
  Air air_;
  std::vector<char> vented_, bleeding_;
  std::vector<double> pressure_;  // absolute, mean over the last step; of the air where there is no resin
  std::vector<Moment> course_;
  Filling out_;
  double time_ = 0, total_ = 0;
  int open_vents_ = 0;
  bool sealed_ = false;  // no vent was open from the start
};

void Fill::begin() {
  const int n = net_.size();
  vented_.assign(n, 0), bleeding_.assign(n, 0);
  out_.peak_pressure.assign(n, o_.cavity_pressure);
  pressure_ = out_.peak_pressure;
  out_.vent_closed_at.assign(ports_.vents.size(), never);
  for (double v : net_.volume) total_ += v;
  // The inlet's own cells take the first resin at no resistance worth the name.
  time_ = pumping_time(o_.schedule, 0, front_.volume());
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
  return r.space * std::min(1.0, air_.pressure(r) / (o_.pressure_limit + atmosphere_pa));
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

// How far the inlet pushes on in the next step.
double Fill::choose(const Step& last, double stride) const {
  if (!(last.integral > 0)) {
    double t = 0;
    for (int i : front_.fed())
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
        if (front_.full(net_.to[e])) t += net_.t[e];
    return layer() / t;
  }
  double volume = stride * layer();
  const double change = next_change(o_.schedule, front_.volume()) - front_.volume();
  // A change of rate need not be met exactly (see pumping_time), only no step should reach far across it.
  if (change > 0.1 * volume) volume = std::min(volume, change);
  // 4: the second step from an inlet takes three times the push of the first. 2: pockets come to rest smoothly.
  const double growth = only_pockets() ? 2 : 4;
  double integral = std::min(volume * last.integral / std::max(last.volume, 1e-300), growth * last.integral);
  for (double t : out_.vent_closed_at)
    if (std::isfinite(t) && t > time_)
      integral = std::min(integral, std::max((t - time_) / last.time, 0.05) * last.integral);
  return integral;
}

// The pump gives its rate, or the pressure limit if that is slower.
double Fill::duration(double integral, double from, double to) const {
  return std::max(o_.viscosity * integral / (o_.pressure_limit + atmosphere_pa - o_.cavity_pressure),
                  pumping_time(o_.schedule, from, to));
}

// Cells that fill as far as can be seen from the front, outside pockets.
void Fill::run_ahead() {
  do front_.relax();
  while (front_.take_in([&](int i) { return !air_.caught(i); }) > 0 && front_.layers() <= max_layers);
}

// One step: which cells fill, against which gas, in what time, all in balance.
Fill::Step Fill::go(double integral, double loose, const Step& last) {
  const double from = front_.volume(), alike = last.integral > 0 ? integral / last.integral : 0;
  const bool caught = has_pockets();
  Step step;
  step.integral = integral;
  front_.begin(front_.inlet_integral() + integral);
  step.time = duration(integral, from, from + alike * last.volume);
  air_.begin(front_, step.time / o_.viscosity);
  run_ahead();
  double before = 0, wanted_before = 0;
  for (int round = 0; !step.balanced && round < max_rounds; ++round) {
    air_.balance(front_, step.time / o_.viscosity, loose);
    step.volume = front_.volume() - from;
    loose = std::clamp(o_.loose_fraction * step.volume, std::min(loose, min_fraction * total_), loose);
    const double wanted = duration(integral, from, from + step.volume);
    const bool calm = !caught || (air_.settled(front_, step.time / o_.viscosity) &&
                                  std::abs(wanted - step.time) <= same_time * wanted);
    step.balanced = front_.take_in([&](int i) { return calm || !air_.caught(i); }) == 0 && calm;
    // The longer a step, the more a gas pushes back, and the less the pump has to bring: Newton's step by what was
    // seen.
    const double slope = round ? std::max(0.0, (wanted_before - wanted) / (step.time - before)) : 0;
    before = step.time, wanted_before = wanted;
    step.time = caught && !step.balanced && std::isfinite(slope) ? before + (wanted - before) / (1 + slope) : wanted;
    if (!step.balanced) run_ahead();
  }
  step.layers = front_.layers();
  return step;
}

// A vent passes air as long as any of its nodes is not full. Returns how many do.
int Fill::mark_vented() {
  int open = 0;
  std::fill(vented_.begin(), vented_.end(), 0);
  for (std::size_t v = 0; v < ports_.vents.size(); ++v) {
    if (time_ >= o_.vents[v].blocked_from) continue;
    bool dry = false;
    for (int i : ports_.vents[v])
      if (!front_.full(i)) vented_[i] = 1, dry = true;
    open += dry;
  }
  return open;
}

// Then it passes resin for its bleed time, then nothing.
void Fill::close_vents() {
  std::vector<char> bleeding(net_.size(), 0);
  for (std::size_t v = 0; v < ports_.vents.size(); ++v) {
    const auto& nodes = ports_.vents[v];
    if (std::any_of(nodes.begin(), nodes.end(), [&](int i) { return !front_.full(i); })) continue;
    auto& closes = out_.vent_closed_at[v];
    if (closes == never) closes = std::min(time_ + o_.vents[v].bleed, std::max(time_, o_.vents[v].blocked_from));
    if (time_ < closes * (1 - 1e-9))
      for (int i : nodes) bleeding[i] = 1;
  }
  for (int i : ports_.inlet) bleeding[i] = 0;
  for (int i = 0; i < net_.size(); ++i) {
    if (bleeding[i] && !bleeding_[i]) front_.bleed(i);
    if (!bleeding[i] && bleeding_[i]) front_.shut(i);
  }
  bleeding_ = std::move(bleeding);
}

void Fill::record(const Step& step) {
  const double per_integral = o_.viscosity / step.time, inlet = o_.cavity_pressure + per_integral * step.integral;
  // Nowhere is resin under more pressure than where it comes from, or than the air it holds: in a step as short as the
  // last one may be, what the balance left over would show as such.
  double most = inlet;
  for (const DryRegion& r : air_.regions()) most = std::max(most, air_.pressure(r));
  for (int i = 0; i < net_.size(); ++i) {
    const double inlet_integral = front_.integral()[i] - front_.integral_before()[i];
    const double p = pressure_[i] = std::min(o_.cavity_pressure + per_integral * inlet_integral, most);
    if (front_.full(i)) out_.peak_pressure[i] = std::max(out_.peak_pressure[i], p);
  }
  watch_(time_, inlet, pressure_);
  // Mean over the step, given at its middle.
  out_.history.push_back({time_ - 0.5 * step.time, inlet - atmosphere_pa, step.volume / step.time,
                          (front_.volume() - front_.bled() - 0.5 * step.volume) / std::max(total_, 1e-300)});
}

bool Fill::at_rest(const Step& step) const {
  if (to_come() < o_.rest_fraction * total_) return true;
  const double inlet = o_.cavity_pressure + step.integral * o_.viscosity / step.time;
  // Air that was never let out is pressed by the pump's rate at first, hardly harder than it pushes back.
  if (sealed_ && inlet < (1 - o_.pocket_rest) * (o_.pressure_limit + atmosphere_pa)) return false;
  return std::all_of(air_.regions().begin(), air_.regions().end(),
                     [&](const DryRegion& r) { return inlet - air_.pressure(r) < o_.pocket_rest * inlet; });
}

// The last of the resin goes where most of it is already.
void Fill::shrink(Pocket& p, const DryRegion& r, double end) {
  std::vector<std::pair<double, int>> emptiness;
  for (int i : r.nodes) {
    const double empty = 1 - front_.filled()[i] / net_.volume[i];
    emptiness.emplace_back(empty, i);
    p.area += sheet_.area[i] * empty;
    p.centre += sheet_.area[i] * empty * sheet_.mesh.points[i];
  }
  if (p.area > 0) p.centre /= p.area;
  p.area *= p.final_volume / r.space;
  std::sort(emptiness.begin(), emptiness.end());
  double taken = 0;
  for (const auto& [empty, i] : emptiness)
    if ((taken += empty * net_.volume[i]) <= r.space - p.final_volume) out_.arrival[i] = std::min(out_.arrival[i], end);
}

void Fill::finish() {
  std::vector<GasPocketConstraint> none;  // the air stands as it is
  front_.balance(0, none);
  out_.injected = front_.entered();
  for (double v : front_.filled()) out_.resin += v;
  out_.resin += front_.bled();
  out_.arrival = arrivals_.finish(front_);
  for (double& a : out_.arrival) a = a == never ? never : a > 0 ? time_at(course_, a) : 0;
  const bool pressed = only_pockets();  // and so will be pressed to the pump's limit
  const double last = front_.volume() + (pressed ? to_come() : 0);
  double end = never;
  if (has_pockets()) {
    const double most = as_good_as_full * last;
    end = time_at(course_, most);
    // Beyond the last step at its rate.
    if (const auto& h = out_.history; most > course_.back().volume && !h.empty() && h.back().rate > 0)
      end += (most - course_.back().volume) / h.back().rate;
  }
  for (int i = 0; i < net_.size(); ++i)
    if (out_.arrival[i] <= end && out_.arrival[i] != never && out_.arrival[i] >= out_.fill_time)
      out_.fill_time = out_.arrival[i], out_.last_node = i;
  if (pressed && end != never) out_.fill_time = std::max(out_.fill_time, end);
  if (out_.last_node >= 0) {
    out_.last_to_vent = never;
    for (const auto& v : o_.vents)
      out_.last_to_vent = std::min(out_.last_to_vent, distance_to_path(sheet_.mesh.points[out_.last_node], v.path));
  }
  for (const auto& r : air_.regions()) {
    if (r.pocket < 0) continue;
    const auto& gas = air_.gas()[r.pocket];
    Pocket p;
    p.closed_at = gas.closed_at, p.initial_volume = gas.initial_volume, p.nodes = gas.nodes;
    p.final_volume = pressed ? at_limit(r) : r.space;
    p.final_pressure = air_.pressure(r) * r.space / p.final_volume;
    shrink(p, r, end);
    std::sort(p.nodes.begin(), p.nodes.end());
    out_.pockets.push_back(std::move(p));
  }
  std::stable_sort(out_.pockets.begin(), out_.pockets.end(),
                   [](const auto& a, const auto& b) { return a.area > b.area; });
  if (out_.history.size() > max_samples) {
    std::vector<FlowSample> thin;
    const double stride = double(out_.history.size() - 1) / (max_samples - 1);
    for (std::size_t k = 0; k < max_samples; ++k) thin.push_back(out_.history[std::size_t(std::lround(k * stride))]);
    out_.history = std::move(thin);
  }
  if (o_.gel_time > 0 && out_.fill_time > o_.gel_time)
    out_.warnings.push_back("the fill takes longer than the gel time: resin would set before the last node is reached");
  double dry = 0;
  bool at_front = false;
  for (const auto& r : air_.regions()) {
    if (r.pocket >= 0) continue;
    dry += r.space;
    for (int i : r.nodes)
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) at_front = at_front || front_.full(net_.to[e]);
  }
  if (!(dry > 1e-9 * total_)) return;
  char fraction[16];
  std::snprintf(fraction, sizeof fraction, "%.2g %%", 100 * dry / total_);
  out_.warnings.push_back(at_front ? "the front stalls: " + std::string(fraction) +
                                         " of the cavity is dry when the flow stops"
                                   : "resin never reaches " + std::string(fraction) +
                                         " of the cavity: that part of the sheet is joined to no inlet");
}

Filling Fill::run(const Progress& progress) {
  begin();
  Step last;
  int rests = 0;
  double seen = 0, stride = o_.cells_per_step, again = 0;
  // Twenty per row of cells, and as many again to bring pockets to rest.
  const long max_steps = 1000 + 40L * std::lround(std::sqrt(double(net_.size())));
  for (long k = 0; k < max_steps && !air_.regions().empty() && !front_.fed().empty(); ++k) {
    const double from = front_.volume(), cells = layer(), began = time_;
    const double loose = o_.loose_fraction * (last.integral > 0 ? std::min(stride * cells, last.volume) : cells);
    Step step = go(again > 0 ? again : choose(last, stride), loose, last);
    if (!step.balanced && step.volume > min_cells * cells) {
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
    if (event && step.volume > event_cells * cells) {
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
    arrivals_.note(front_, from);
    record(step);
    course_.push_back({front_.volume(), time_});
    close_vents();
    stride = step.layers > max_layers ? 0.6 * stride : std::min(o_.cells_per_step, 1.3 * stride);
    last = step;
    if (only_pockets() && (at_rest(step) || ++rests > max_rests)) break;
    if (const double fraction = front_.volume() / total_; fraction > seen + 0.02)
      report_progress(progress, "flow", seen = std::min(fraction, 1.0));
  }
  finish();
  return std::move(out_);
}

}  // namespace

void check_options(const FlowOptions& options) {
  if (options.inlets.empty())
    throw Error(Fault::input, "flow: no inlet; name a perimeter, point or path where resin enters");
  if (options.vents.empty()) throw Error(Fault::input, "flow: no vent; name a point or path where air leaves");
  if (!(options.viscosity > 0)) throw Error(Fault::input, "flow: viscosity must be greater than zero");
  if (!(options.pressure_limit + atmosphere_pa > options.cavity_pressure))
    throw Error(Fault::input, "flow: the pressure limit is not above the cavity pressure; no resin would flow");
  // A step that takes nothing never ends; ten rows at once leave of the course of the front no more than a guess.
  if (!(options.cells_per_step >= 0.1 && options.cells_per_step <= 10))
    throw Error(Fault::input, "flow: cells per step must lie between 0.1 and 10");
  for (const auto& s : options.schedule)
    if (!(s.rate > 0)) throw Error(Fault::input, "flow: every rate of the schedule must be greater than zero");
}

Filling fill_watched(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                     const PressureWatch& watch, const Progress& progress) {
  check_options(options);
  return Fill(sheet, laminate, options, watch).run(progress);
}

Filling fill(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options, const Progress& progress) {
  if (laminate.nodes.size() != sheet.size())
    throw Error(Fault::input, "flow: the laminate belongs to another sheet; evaluate it on this one");
  OpeningWatch opening(sheet, laminate, options);
  double inlet = options.cavity_pressure;
  const auto watch = [&](double time, double at_inlet, const std::vector<double>& pressure) {
    opening.see(time, pressure), inlet = at_inlet;
  };
  Filling out = fill_watched(sheet, laminate, options, watch, progress);
  out.opening = opening.finish(out.fill_time, inlet);
  return out;
}

double dry_area(const Filling& f) {
  double area = 0;
  for (const auto& p : f.pockets) area += p.area;
  return area;
}

}  // namespace gapfront
