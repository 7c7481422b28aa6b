#include "flow/air.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>

namespace gapfront::flow {
namespace {

// A region of one or two nodes, or of less room than three average nodes have, that gets cut off is the raggedness of
// the front on the mesh, not a pocket that the mesh can resolve; its air is let out. A pocket that was larger when it
// closed keeps its air to the end.
constexpr int kMinNodes = 3;
// Gas pressure and space agree to this share; well inside the 1 % that they are wanted to.
constexpr double kGasFraction = 1e-3;

bool resolved(const DryRegion& r, double mean_volume) {
  return r.nodes_outside >= kMinNodes && r.space_outside >= kMinNodes * mean_volume;
}

}  // namespace

Air::Air(const Network& net, double vent_pressure, std::vector<char> mouth)
    : net_(&net),
      vent_pressure_(vent_pressure),
      mean_volume_(std::accumulate(net.volume.begin(), net.volume.end(), 0.0) / std::max(net.size(), 1)),
      gas_of_(net.size(), -1),
      mouth_(std::move(mouth)) {}

void Air::relabel(const Front& front, const std::vector<char>& vented, double time) {
  regions_.clear();
  for (auto& g : gas_) g.integral_before = g.integral;
  seen_ = front.wet(), found_.resize(net_->size() + 1);
  // By pointers: a mark is a char, and might be anything for all that the compiler knows.
  const int *const start = net_->start.data(), *const to = net_->to.data();
  const double *const volume = net_->volume.data(), *const filled = front.filled().data();
  const char* const mouth = mouth_.data();
  char* const seen = seen_.data();
  int* const found = found_.data();
  for (auto from = seen_.begin(); (from = std::find(from, seen_.end(), 0)) != seen_.end();) {
    const int seed = found[0] = static_cast<int>(from - seen_.begin());
    seen[seed] = 1;
    DryRegion r;
    bool open = false;
    std::size_t end = 1;
    for (std::size_t k = 0; k < end; ++k) {
      const int i = found[k];
      open = open || vented[i];
      const double space = std::max(0.0, volume[i] - filled[i]);
      r.space += space, r.space_outside += mouth[i] ? 0 : space, r.nodes_outside += !mouth[i];
      for (int e = start[i]; e < start[i + 1]; ++e) {  // without a branch, which could not be foreseen
        const int j = to[e];
        found[end] = j, end += seen[j] == 0, seen[j] = 1;
      }
    }
    r.nodes.assign(found, found + end);
    int gas = gas_of_[seed];
    if (open) {
      gas = -1;  // a pocket that has come upon an open vent empties
    } else if (gas == -1 && !resolved(r, mean_volume_)) {
      gas = -2;
    } else if (gas == -1) {
      gas = static_cast<int>(gas_.size());
      const double integral = front.integral()[seed];
      gas_.push_back({time, r.space, r.nodes, integral, integral});
    }
    for (int i : r.nodes) gas_of_[i] = gas;
    r.pocket = std::max(gas, -1);
    regions_.push_back(std::move(r));
  }
  share_out();
}

// A pocket that falls apart shares its gas out by volume. The largest part keeps the name, the others are new pockets;
// splinters leave theirs to the largest and fill up.
void Air::share_out() {
  std::map<int, std::vector<DryRegion*>> parts;
  for (auto& r : regions_)
    if (r.pocket >= 0) parts[r.pocket].push_back(&r);
  for (auto& [gas, of] : parts) {
    std::stable_sort(of.begin(), of.end(), [](auto* a, auto* b) { return a->space > b->space; });
    while (of.size() > 1 && !resolved(*of.back(), mean_volume_)) {
      for (int i : of.back()->nodes) gas_of_[i] = -2;
      of.back()->pocket = -1;
      of.pop_back();
    }
    if (of.size() == 1) continue;
    double space = 0;
    for (auto* r : of) space += r->space;
    const Gas whole = gas_[gas];
    gas_[gas].initial_volume *= of[0]->space / space;
    for (std::size_t k = 1; k < of.size(); ++k) {
      auto& r = *of[k];
      r.pocket = static_cast<int>(gas_.size());
      gas_.push_back(
          {whole.closed_at, whole.initial_volume * r.space / space, r.nodes, whole.integral_before, whole.integral});
      for (int i : r.nodes) gas_of_[i] = r.pocket;
    }
  }
}

double Air::space(const Front& front, const DryRegion& r) const {
  double sum = 0;
  for (int i : r.nodes)
    if (!front.full(i)) sum += net_->volume[i] - front.filled()[i];
  return sum;
}

void Air::begin(Front& front, double step) {
  for (const auto& r : regions_) {
    if (r.pocket < 0) continue;
    auto& gas = gas_[r.pocket];
    gas.integral = gas.integral_before + step * (pressure(r) - vent_pressure_);
    for (int i : r.nodes) front.set_air(i, gas.integral);
  }
}

bool Air::balance(Front& front, double step, double loose) {
  std::vector<GasPocketConstraint> constraints;
  std::vector<Gas*> of;
  for (const auto& r : regions_) {
    if (r.pocket < 0) continue;
    auto& gas = gas_[r.pocket];
    GasPocketConstraint c;
    double volume = 0, fallen = 0;
    for (int i : r.nodes) {
      if (front.full(i)) continue;
      c.nodes.push_back(i);
      volume += net_->volume[i], fallen += front.fallen(i);
      for (int e = net_->start[i]; e < net_->start[i + 1]; ++e)
        if (front.full(net_->to[e])) c.links.emplace_back(net_->to[e], net_->t[e]);
    }
    if (c.links.empty()) continue;
    // p·space = content, linear about where it is: resin = volume − content/p + space/(p·step)·(integral − its integral
    // now). That product is convex in the integral: from one that is too hard it comes down evenly, from one that is
    // too light it goes there first.
    const double p = mean_pressure(gas, step);
    c.gives = std::max(0.0, space(front, r)) / (p * step);
    c.keeps = volume - vent_pressure_ * gas.initial_volume / p - c.gives * gas.integral - fallen;
    constraints.push_back(std::move(c)), of.push_back(&gas);
  }
  const bool solved = front.balance(loose, constraints);
  for (std::size_t k = 0; k < of.size(); ++k) {
    // No gas falls below a tenth of its pressure in one go.
    const double minimum = of[k]->integral_before + step * (0.1 * mean_pressure(*of[k], step) - vent_pressure_);
    of[k]->integral = std::max(constraints[k].integral, minimum);
    for (int i : constraints[k].nodes) front.set_air(i, of[k]->integral);
  }
  return solved;
}

bool Air::settled(const Front& front, double step) const {
  return std::all_of(regions_.begin(), regions_.end(), [&](const DryRegion& r) {
    if (r.pocket < 0) return true;
    const Gas& gas = gas_[r.pocket];
    const double content = vent_pressure_ * gas.initial_volume;
    return std::abs(mean_pressure(gas, step) * space(front, r) - content) <= kGasFraction * content;
  });
}

void Air::undo() {
  for (auto& g : gas_) g.integral = g.integral_before;
}

}  // namespace gapfront::flow
