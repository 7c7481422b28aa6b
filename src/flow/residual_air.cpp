// Bubbles that the front leaves, and where they come to lie.
#include "gapfront/residual_air.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "flow/arrival.hpp"
#include "flow/network.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// Of the pores, for each tenfold of Ca* beyond the window; and no more than so much (order of magnitude, from memory:
// some per cent one or two powers of ten beside the fewest).
constexpr double kPerDecade = 0.03, kMostLeft = 0.1;
// Share of the laminate's volume from which bubbles count, and of the stack's thickness that may be dry below (own
// choices; the first is about where strength between plies begins to fall, from memory).
constexpr double kCounts = 0.01, kDryBelow = 0.05;

double left_by(double decades) { return std::clamp(kPerDecade * decades, 0.0, kMostLeft); }

/// Gas at the nodes as pressure × volume, Pa·mm³, followed through a filling.
class BubbleCourse {
 public:
  BubbleCourse(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o, const Filling& f, double mobility)
      : inside(sheet.size(), 0),
        between(sheet.size(), 0),
        sheet_(sheet),
        o_(o),
        filling_(f),
        mobility_(mobility),
        ports_(flow::find_ports(sheet, o)),
        net_(flow::build_network(flow::Links(sheet), sheet, laminate)),
        capillary_(flow::capillary_numbers(sheet, f, o)),
        pressure_(sheet.size(), o.cavity_pressure),
        order_(sheet.size()),
        wet_(sheet.size(), 0) {
    flow::add_runners(net_, sheet, o.inlets);
    std::iota(order_.begin(), order_.end(), 0);
    for (const int i : ports_.inlet) wet_[i] = 1;  // the front starts there and leaves nothing
  }

  void see(double time, double at_inlet, const std::vector<double>& pressure) {
    leave_behind(time);
    carry(time_, time, pressure);
    time_ = time, pressure_ = pressure, inlet = at_inlet;
  }
  /// What creeps into shut-in air after the last step.
  void finish() { leave_behind(flow::kNever); }

  const std::vector<double>& pressure() const { return pressure_; }
  bool wet(std::size_t i) const { return wet_[i]; }

  std::vector<double> inside, between;
  double formed_inside = 0, formed_between = 0, bled = 0, inlet = 0;

 private:
  const Sheet& sheet_;
  const FlowOptions& o_;
  const Filling& filling_;
  double mobility_;
  flow::Ports ports_;
  flow::Network net_;
  std::vector<double> capillary_, pressure_;
  std::vector<int> order_;
  std::vector<char> wet_;
  double time_ = 0;

  // Bubbles at the pressure of the air that the front found there.
  void leave_behind(double until) {
    for (std::size_t i = 0; i < wet_.size(); ++i) {
      if (wet_[i] || !(filling_.arrival[i] <= until) || !std::isfinite(filling_.arrival[i])) continue;
      wet_[i] = 1;
      if (!std::isfinite(capillary_[i])) continue;
      const double gas = pressure_[i] * net_.volume[i], decades = std::log10(capillary_[i]);
      const double in = gas * left_by(decades - std::log10(kFastFront));
      const double beside = gas * left_by(std::log10(kSlowFront) - decades);
      inside[i] += in, between[i] += beside;
      formed_inside += in, formed_between += beside;
    }
  }

  /// A vent's nodes that are full, from when its mouth is covered until it closes.
  std::vector<char> bleeding(double time) const {
    std::vector<char> out(wet_.size(), 0);
    for (std::size_t v = 0; v < ports_.vents.size(); ++v) {
      const double closes = filling_.vent_closed_at[v], covered = closes - o_.vents[v].bleed;
      if (!(o_.vents[v].bleed > 0) || time < covered * (1 - 1e-9) || time > closes * (1 + 1e-9)) continue;
      for (const int i : ports_.vents[v]) out[i] = wet_[i];
    }
    return out;
  }

  // From node to node down the pressure, so that what comes is known before what goes: implicit, at any step.
  void carry(double from, double to, const std::vector<double>& pressure) {
    if (!(to > from)) return;
    const Vec3 pull = o_.gravity.pull();
    std::vector<double> head(pressure.size());
    for (std::size_t i = 0; i < head.size(); ++i) head[i] = pressure[i] - pull.dot(sheet_.mesh.points[i]);
    std::sort(order_.begin(), order_.end(),
              [&](int a, int b) { return head[a] != head[b] ? head[a] > head[b] : a < b; });
    const double aged = o_.ageing.on() ? o_.ageing.factor(o_.ageing.start + 0.5 * (from + to)) : 1;
    // The pressure is the mean over the step, and before the front came to a node nothing has gone on from it.
    const double integral = (to - from) / (o_.viscosity * aged);
    const auto bleeds = bleeding(to);
    for (const int i : order_) {
      if (!wet_[i] || !(between[i] > 0) || !(net_.volume[i] > 0)) continue;
      const auto passes = [&](int e) { return std::max(0.0, net_.t[e]) * (head[i] - head[net_.to[e]]) * integral; };
      double out = 0, in = 0;
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
        const double q = passes(e);
        (q > 0 ? out : in) += std::abs(q);
      }
      const double leaves = bleeds[i] ? std::max(0.0, in - out) : 0, all = out + leaves;
      const double changes = mobility_ * all / net_.volume[i];
      if (!(changes > 0)) continue;
      const double moved = between[i] * changes / (1 + changes);
      between[i] -= moved;
      bled += moved * leaves / all;
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
        if (const double q = passes(e); q > 0) between[net_.to[e]] += moved * q / all;
    }
  }
};

AirClass class_of(const Filling& f, std::size_t i, double inside, double between) {
  if (!std::isfinite(f.arrival[i])) return AirClass::dry;
  if (i < f.dry_below.size() && f.dry_below[i] > kDryBelow) return AirClass::dry_below;
  if (inside + between < kCounts) return AirClass::sound;
  return inside > between ? AirClass::in_bundles : AirClass::between_bundles;
}

void check_air(const Sheet& sheet, const FlowOptions& o, const Filling& f, const AirOptions& a) {
  if (!(a.mobility >= 0 && a.mobility < 1))
    throw Error(Fault::input, "flow: the mobility of bubbles must lie from 0 to below 1");
  if (!(o.surface_tension > 0))
    throw Error(Fault::input, "flow: residual air follows from the resin's surface tension; give it");
  if (f.arrival.size() != sheet.size() || f.vent_closed_at.size() != o.vents.size())
    throw Error(Fault::input, "flow: the filling belongs to another sheet or other vents; fill this one");
}

}  // namespace

const char* to_string(AirClass c) {
  constexpr const char* names[] = {"sound", "in bundles", "between bundles", "dry below", "dry"};
  return names[static_cast<int>(c)];
}

ResidualAir flow::residual_air(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o, const Filling& f,
                               const AirOptions& options) {
  ResidualAir out;
  if (!options.on) return out;
  check_air(sheet, o, f, options);
  BubbleCourse course(sheet, laminate, o, f, options.mobility);
  flow::fill_watched(sheet, laminate, o,
                     [&](double time, double inlet, const std::vector<double>& p) { course.see(time, inlet, p); });
  course.finish();
  out.computed = true;
  double most = kCounts;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const NodeLaminate& n = laminate.nodes[i];
    const double volume = sheet.area[i] * n.fluid_thickness / std::max(n.porosity, 1e-9);
    const bool wet = course.wet(i) && volume > 0;
    const double p = std::max(course.pressure()[i], 1.0), held = std::max(p, course.inlet);
    const auto share = [&](double gas, double at) { return wet ? std::min(1.0, gas / at / volume) : 0; };
    out.inside.push_back(share(course.inside[i], p)), out.between.push_back(share(course.between[i], p));
    const double both = out.inside[i] + out.between[i];
    out.node.push_back(class_of(f, i, out.inside[i], out.between[i]));
    out.area[static_cast<std::size_t>(out.node[i])] += sheet.area[i];
    const AirClass then = class_of(f, i, share(course.inside[i], held), share(course.between[i], held));
    out.held[static_cast<std::size_t>(then)] += sheet.area[i];
    if (both > most) most = both, out.worst = static_cast<int>(i);
    if (!wet) out.to_pockets += course.between[i] / atmosphere_pa;
  }
  out.formed_inside = course.formed_inside / atmosphere_pa, out.formed_between = course.formed_between / atmosphere_pa;
  out.bled = course.bled / atmosphere_pa;
  return out;
}

}  // namespace gapfront
