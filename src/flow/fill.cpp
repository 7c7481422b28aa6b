// The moving front: control volumes take resin from the wetted side, quasi-steady pressure behind.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>

#include "flow/air.hpp"
#include "flow/pressure.hpp"
#include "flow/watched.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();
// Share of a front cell that is filled per step. The pressure is frozen meanwhile; what that does to the rate is
// put right to second order by the measured slope of the resistance, so the share sets scatter, not bias.
constexpr double step_share = 0.4;
// Cells that carry this share of the flow may fill faster than that (small cells at tight radii, thin lanes); what
// they cannot take flows on into their dry neighbours within the step.
constexpr double fast_share = 0.1;
// No cell is offered more than this multiple of its volume per step, so that the flow-on stays next door.
constexpr double most_cells = 2;
// Resin behind a pocket has come to rest when the gas would shrink by no more than this share any more; well inside
// the 1 % that its volume is wanted to.
constexpr double pocket_rest = 5e-4;
// A flow direction is taken as one when the inflow's vectors add up to this share of their sum; three equal
// inflows 60° apart give 0.67. Below, the front closes in from several sides and reaches the node last.
constexpr double one_way = 0.6;
constexpr int slope_steps = 6;             // steps over which the slope of the resistance is taken: a few cells
constexpr std::size_t most_samples = 400;  // history samples kept: finer than any chart

struct State {
  std::vector<char> full, inlet, vented, bleeding;
  std::vector<double> filled, u, g, q, qu, before;
  std::vector<Vec3> along;  // Σ inflow × direction, and Σ inflow, over time: where a node was filled from
  std::vector<double> taken;
  double time = 0, bled = 0;
};

double scheduled_rate(const std::vector<RateStep>& schedule, double volume) {
  double rate = schedule.front().rate;
  for (const auto& s : schedule)
    if (volume >= s.from * (1 - 1e-12)) rate = s.rate;
  return rate;
}

double next_change(const std::vector<RateStep>& schedule, double volume) {
  for (const auto& s : schedule)
    if (s.from * (1 - 1e-12) > volume) return s.from;
  return never;
}

class Fill {
 public:
  Fill(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o, const PressureWatch& watch)
      : sheet_(sheet),
        o_(o),
        watch_(watch),
        net_(build_network(sheet, laminate)),
        ports_(find_ports(sheet, o)),
        solver_(net_),
        air_(net_, o.cavity_pressure) {}
  Filling run(const Progress& progress);

 private:
  void begin();
  void solve();
  double drive();
  void fluxes(double drive);
  double pick_step();
  double advance(double dt);
  void settle(double from, double to);
  void vents();
  void record(double drive);
  bool at_rest() const;
  double pocket_conductance(const DryRegion& r) const;
  void finish();

  const Sheet& sheet_;
  const FlowOptions& o_;
  const PressureWatch& watch_;
  Network net_;
  Ports ports_;
  PressureSolver solver_;
  Air air_;
  State s_;
  Filling out_;
  double conductance_ = 0, rate_ = 0, total_ = 0, bleed_rate_ = 0;
  bool limited_ = false;
  std::vector<std::pair<double, double>> resistance_;  // (injected, 1/conductance)
  std::vector<double> region_flow_, region_u_, pressure_;
};

void Fill::begin() {
  const int n = net_.size();
  for (auto* v : {&s_.full, &s_.inlet, &s_.vented, &s_.bleeding}) v->assign(n, 0);
  for (auto* v : {&s_.filled, &s_.u, &s_.g, &s_.q, &s_.qu, &s_.before, &s_.taken}) v->assign(n, 0.0);
  s_.along.assign(n, Vec3::Zero());
  out_.arrival.assign(n, never);
  out_.peak_pressure.assign(n, o_.cavity_pressure);
  out_.vent_closed_at.assign(ports_.vents.size(), never);
  pressure_.assign(n, o_.cavity_pressure);
  for (int i = 0; i < n; ++i)
    if (!(net_.volume[i] > 0)) s_.full[i] = 1;  // a point that belongs to no triangle
  for (int i : ports_.inlet) {
    s_.full[i] = s_.inlet[i] = 1;
    s_.u[i] = 1;
    s_.filled[i] = net_.volume[i];
    out_.arrival[i] = 0;
    out_.injected += net_.volume[i];
  }
  for (int i = 0; i < n; ++i) total_ += net_.volume[i];
  // The inlet's own cells take the first resin at no resistance worth the name.
  if (!o_.schedule.empty()) s_.time = out_.injected / o_.schedule.front().rate;
  vents();
  air_.relabel(s_.full, s_.filled, s_.vented, s_.time);
}

// p = vent + drive·u + g: u carries the inlet's share (1 there, 0 at every front), g what trapped gas adds.
void Fill::solve() {
  solver_.prepare();
  solver_.solve(s_.u);
  bool pushing = false;
  for (const auto& r : air_.regions()) {
    const double g = r.pocket < 0 ? 0 : air_.pressure(r) - o_.cavity_pressure;
    pushing = pushing || g != 0;
    for (int i : r.nodes) s_.g[i] = g;
  }
  if (pushing) solver_.solve(s_.g);
}

// Inlet pressure above the vents': the scheduled rate's, or the limit's.
double Fill::drive() {
  double gas = 0;
  conductance_ = 0;
  for (int i = 0; i < net_.size(); ++i) {
    s_.qu[i] = s_.q[i] = 0;
    if (s_.full[i] && !s_.bleeding[i]) continue;
    double qu = 0, qg = 0;
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
      const int j = net_.to[e];
      if (!s_.full[j] || s_.bleeding[j]) continue;
      const double t = PressureSolver::front(net_.t[e]) / o_.viscosity;
      qu += t * s_.u[j];
      qg += t * (s_.g[j] - s_.g[i]);
    }
    s_.qu[i] = qu, s_.q[i] = qg;
    conductance_ += qu, gas += qg;
  }
  const double most = o_.pressure_limit + atmosphere_pa - o_.cavity_pressure;
  limited_ = true;
  if (o_.schedule.empty() || !(conductance_ > 0)) return most;
  const double wanted = (scheduled_rate(o_.schedule, out_.injected) - gas) / conductance_;
  limited_ = wanted > most;
  return limited_ ? most : std::max(0.0, wanted);
}

void Fill::fluxes(double drive) {
  for (int i = 0; i < net_.size(); ++i) s_.q[i] += drive * s_.qu[i];
  bleed_rate_ = 0;
  for (int i = 0; i < net_.size(); ++i)
    if (s_.bleeding[i]) bleed_rate_ += s_.q[i] = std::max(0.0, s_.q[i]);
  rate_ = bleed_rate_;
  region_flow_.clear(), region_u_.clear();
  for (const auto& r : air_.regions()) {
    double in = 0, net = 0, u = 0;
    for (int i : r.nodes) net += s_.q[i], in += std::max(0.0, s_.q[i]), u += s_.qu[i];
    // The front does not draw back; a pocket takes what flows in less what would flow out, and rests at zero.
    const double flow = r.pocket < 0 ? in : std::max(0.0, net);
    const double scale = in > 0 ? flow / in : 0;
    for (int i : r.nodes) s_.q[i] = std::max(0.0, s_.q[i]) * scale;
    region_flow_.push_back(flow), region_u_.push_back(u);
    rate_ += flow;
  }
}

double Fill::pick_step() {
  std::vector<std::pair<double, double>> cells;  // (fills per second, flow)
  double flow = 0;
  for (const auto& r : air_.regions())
    for (int i : r.nodes)
      if (s_.q[i] > 0) cells.emplace_back(s_.q[i] / net_.volume[i], s_.q[i]), flow += s_.q[i];
  if (cells.empty()) return 0;
  std::sort(cells.rbegin(), cells.rend());
  double sum = 0, dt = most_cells / cells[0].first;
  for (const auto& [speed, q] : cells)
    if ((sum += q) >= fast_share * flow) {
      dt = std::min(dt, step_share / speed);
      break;
    }
  for (std::size_t k = 0; k < air_.regions().size(); ++k)
    if (air_.regions()[k].pocket < 0 && region_flow_[k] > 0)
      dt = std::min(dt, air_.regions()[k].space / region_flow_[k]);
  if (!o_.schedule.empty()) dt = std::min(dt, (next_change(o_.schedule, out_.injected) - out_.injected) / rate_);
  for (double t : out_.vent_closed_at)
    if (t > s_.time) dt = std::min(dt, t - s_.time);
  return dt;
}

// How fast the flow into a pocket gives way to its pressure, mm³/(s·Pa). While resin still runs elsewhere: the
// conductance of the last cells alone, an upper bound that keeps the gas from being over-compressed in one step.
double Fill::pocket_conductance(const DryRegion& r) const {
  std::size_t pockets = 0;
  bool open = false;
  double u = 0;
  for (std::size_t k = 0; k < air_.regions().size(); ++k) {
    pockets += air_.regions()[k].pocket >= 0;
    open = open || (air_.regions()[k].pocket < 0 && region_flow_[k] > 0);
    if (&air_.regions()[k] == &r) u = region_u_[k];
  }
  if (!open && bleed_rate_ == 0) return pockets > 1 ? 2 * u : u;  // alone with the inlet: u's own flow
  double local = 0;
  for (int i : r.nodes)
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
      if (s_.full[net_.to[e]]) local += PressureSolver::front(net_.t[e]) / o_.viscosity;
  return local;
}

bool Fill::at_rest() const {
  for (std::size_t k = 0; k < air_.regions().size(); ++k) {
    const auto& r = air_.regions()[k];
    if (!(region_flow_[k] > 0)) continue;
    if (r.pocket < 0) return false;
    const double p = air_.pressure(r), rise = region_flow_[k] / std::max(pocket_conductance(r), 1e-300);
    if (rise > pocket_rest * p) return false;
  }
  return true;
}

// Puts dt worth of inflow into the cells; returns the time it took.
double Fill::advance(double dt) {
  s_.before = s_.filled;
  double offered = bleed_rate_ * dt, left = 0;
  s_.bled += offered;
  std::vector<int> over;
  for (std::size_t k = 0; k < air_.regions().size(); ++k) {
    const auto& r = air_.regions()[k];
    const double flow = region_flow_[k];
    if (!(flow > 0)) continue;
    double volume = flow * dt;
    if (r.pocket >= 0) {
      // Gas that gives way towards p + flow/conductance: V from V0 to V* with the starting slope of −flow.
      const double p = air_.pressure(r), end = air_.gas()[r.pocket].content / (p + flow / pocket_conductance(r));
      const double room = r.space - end;
      volume = room > 0 ? room * (1 - std::exp(-flow * dt / room)) : 0;
    }
    offered += volume;
    for (int i : r.nodes)
      if (s_.q[i] > 0) {
        const double v = volume * s_.q[i] / flow;
        s_.filled[i] += v;
        s_.taken[i] += v;
        double all = 0;
        Vec3 way = Vec3::Zero();
        for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
          const int j = net_.to[e];
          if (!s_.full[j] || s_.bleeding[j]) continue;
          const double f = PressureSolver::front(net_.t[e]) * std::max(0.0, s_.u[j]);
          way += f * (sheet_.mesh.points[i] - sheet_.mesh.points[j]).normalized();
          all += f;
        }
        if (all > 0) s_.along[i] += v / all * way;
        if (s_.filled[i] >= net_.volume[i] * (1 - 1e-12)) over.push_back(i);
      }
  }
  // What a cell cannot hold flows on into its dry neighbours.
  for (std::size_t k = 0; k < over.size(); ++k) {
    const int i = over[k];
    const double excess = s_.filled[i] - net_.volume[i];
    s_.filled[i] = net_.volume[i];
    s_.full[i] = 1;
    if (!(excess > 0)) continue;
    double sum = 0;
    const auto takes = [&](int j) { return !s_.full[j] && s_.filled[j] < net_.volume[j] * (1 - 1e-12); };
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
      if (takes(net_.to[e])) sum += PressureSolver::front(net_.t[e]);
    if (!(sum > 0)) {
      left += excess;
      continue;
    }
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
      const int j = net_.to[e];
      if (!takes(j) || !(net_.t[e] > 0)) continue;
      const double v = excess * net_.t[e] / sum;
      s_.filled[j] += v, s_.taken[j] += v;
      s_.along[j] += v * (sheet_.mesh.points[j] - sheet_.mesh.points[i]).normalized();
      if (!takes(j)) over.push_back(j);
    }
  }
  const double accepted = offered - left;
  double step = offered > 0 ? dt * accepted / offered : dt;
  // Under the pressure limit the rate falls during the step: mean resistance = R + ½ R′ dV.
  if (limited_ && resistance_.size() > slope_steps) {
    const auto &a = resistance_[resistance_.size() - 1 - slope_steps], &b = resistance_.back();
    const double slope = b.first > a.first ? (b.second - a.second) / (b.first - a.first) : 0;
    step *= std::clamp(1 + 0.5 * slope * accepted / b.second, 1.0, 1.5);
  }
  out_.injected += accepted;
  return step;
}

// Arrival of the nodes that were passed between two times; newly full cells join the wetted part.
void Fill::settle(double from, double to) {
  bool changed = false;
  for (const auto& r : air_.regions())
    for (int i : r.nodes) {
      if (s_.filled[i] > s_.before[i] && out_.arrival[i] == never) {
        const double way = s_.along[i].norm(), ratio = s_.taken[i] > 0 ? way / s_.taken[i] : 0;
        const double up = way > 0 ? share_upstream(net_, i, s_.along[i] / way) : 1;
        const double level = net_.volume[i] * (1 - std::min(1.0, ratio / one_way) * (1 - up));
        if (s_.full[i] || s_.filled[i] >= level) {
          const double t = (level - s_.before[i]) / (s_.filled[i] - s_.before[i]);
          out_.arrival[i] = from + std::clamp(t, 0.0, 1.0) * (to - from);
        }
      }
      if (s_.full[i]) {
        changed = true;
        s_.u[i] = solver_.balanced(i, s_.u);
        s_.g[i] = 0;
        solver_.join(i);
      }
    }
  s_.time = to;
  vents();
  if (changed)
    air_.relabel(s_.full, s_.filled, s_.vented, to);
  else
    air_.refresh(s_.filled);
}

// A vent passes air as long as any of its nodes is dry, then resin for its bleed time, then nothing.
void Fill::vents() {
  std::fill(s_.vented.begin(), s_.vented.end(), 0);
  std::vector<char> bleeding(net_.size(), 0);
  for (std::size_t v = 0; v < ports_.vents.size(); ++v) {
    bool dry = false;
    for (int i : ports_.vents[v])
      if (!s_.full[i]) dry = true, s_.vented[i] = 1;
    if (dry) continue;
    if (out_.vent_closed_at[v] == never) out_.vent_closed_at[v] = s_.time + o_.vents[v].bleed;
    if (s_.time < out_.vent_closed_at[v] * (1 - 1e-12))
      for (int i : ports_.vents[v]) bleeding[i] = !s_.inlet[i];
  }
  for (int i = 0; i < net_.size(); ++i) {
    if (bleeding[i]) {
      if (solver_.joined(i)) solver_.leave(i);
      s_.u[i] = s_.g[i] = 0;
    } else if (s_.bleeding[i]) {
      solver_.join(i);
    }
  }
  s_.bleeding = std::move(bleeding);
}

void Fill::record(double drive) {
  for (int i = 0; i < net_.size(); ++i) {
    pressure_[i] = o_.cavity_pressure + drive * s_.u[i] + s_.g[i];
    if (solver_.joined(i) || s_.inlet[i]) out_.peak_pressure[i] = std::max(out_.peak_pressure[i], pressure_[i]);
  }
  watch_(s_.time, o_.cavity_pressure + drive, pressure_);
  out_.history.push_back({s_.time, o_.cavity_pressure + drive - atmosphere_pa, rate_,
                          (out_.injected - s_.bled) / std::max(total_, 1e-300)});
}

void Fill::finish() {
  for (int i = 0; i < net_.size(); ++i) {
    out_.resin += s_.filled[i];
    if (out_.arrival[i] == never || out_.arrival[i] < out_.fill_time) continue;
    out_.fill_time = out_.arrival[i], out_.last_node = i;
  }
  out_.resin += s_.bled;
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
    p.final_volume = r.space, p.final_pressure = air_.pressure(r);
    for (int i : r.nodes) {
      const double dry = sheet_.area[i] * (1 - s_.filled[i] / net_.volume[i]);
      p.area += dry;
      p.centre += dry * sheet_.mesh.points[i];
    }
    if (p.area > 0) p.centre /= p.area;
    std::sort(p.nodes.begin(), p.nodes.end());
    out_.pockets.push_back(std::move(p));
  }
  std::stable_sort(out_.pockets.begin(), out_.pockets.end(),
                   [](const auto& a, const auto& b) { return a.area > b.area; });
  if (out_.history.size() > most_samples) {
    std::vector<FlowSample> thin;
    const double stride = double(out_.history.size() - 1) / (most_samples - 1);
    for (std::size_t k = 0; k < most_samples; ++k) thin.push_back(out_.history[std::size_t(std::lround(k * stride))]);
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
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) at_front = at_front || s_.full[net_.to[e]];
  }
  if (!(dry > 1e-9 * total_)) return;
  char share[16];
  std::snprintf(share, sizeof share, "%.2g %%", 100 * dry / total_);
  out_.warnings.push_back(at_front
                              ? "the front stalls: " + std::string(share) + " of the cavity is dry when the flow stops"
                              : "resin never reaches " + std::string(share) +
                                    " of the cavity: that part of the sheet is joined to no inlet");
}

Filling Fill::run(const Progress& progress) {
  begin();
  double seen = 0;
  // A step fills 0.4 of a cell of the front's main part; a front one cell wide would need 2.5 steps per node.
  const long most_steps = 1000 + 10L * net_.size();
  for (long k = 0; k < most_steps && !air_.regions().empty(); ++k) {
    solve();
    const double d = drive();
    if (!(conductance_ > 0)) break;
    fluxes(d);
    resistance_.emplace_back(out_.injected, 1 / conductance_);
    record(d);
    const double dt = pick_step();
    if (!(dt > 0) || at_rest()) break;
    const double from = s_.time, step = advance(dt);
    settle(from, from + step);
    if (const double share = out_.injected / total_; share > seen + 0.02)
      report_progress(progress, "flow", seen = std::min(share, 1.0));
  }
  finish();
  return std::move(out_);
}

}  // namespace

Filling fill_watched(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                     const PressureWatch& watch, const Progress& progress) {
  if (!(options.viscosity > 0)) throw Error(Fault::input, "flow: viscosity must be greater than zero");
  if (!(options.pressure_limit + atmosphere_pa > options.cavity_pressure))
    throw Error(Fault::input, "flow: the pressure limit is not above the cavity pressure; no resin would flow");
  for (const auto& s : options.schedule)
    if (!(s.rate > 0)) throw Error(Fault::input, "flow: every rate of the schedule must be greater than zero");
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

}  // namespace gapfront
