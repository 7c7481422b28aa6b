#include "flow/air.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace gapfront {
namespace {

// A region of one or two nodes, or of less room than three average nodes have, that gets cut off is the raggedness of
// the front on the mesh, not a pocket that the mesh can resolve; its air is let out. A pocket that was larger when it
// closed keeps its air to the end.
constexpr int least_nodes = 3;
// Gas pressure and space agree to this share; well inside the 1 % that they are wanted to.
constexpr double gas_share = 1e-3;

bool resolved(const DryRegion& r, double mean_volume) {
  return r.nodes.size() >= least_nodes && r.space >= least_nodes * mean_volume;
}

}  // namespace

void Air::relabel(const Front& front, const std::vector<char>& vented, double time) {
  const double mean_volume = std::accumulate(net_->volume.begin(), net_->volume.end(), 0.0) / std::max(net_->size(), 1);
  regions_.clear();
  std::fill(mark_.begin(), mark_.end(), 0);
  for (auto& g : gas_) g.pushed = g.push;
  std::map<int, double> parent_space;  // a pocket that falls apart shares its gas out by volume
  std::vector<int> parents;
  for (int seed = 0; seed < net_->size(); ++seed) {
    if (front.full(seed) || mark_[seed]) continue;
    DryRegion r;
    r.nodes = {seed};
    mark_[seed] = 1;
    bool open = false;
    for (std::size_t k = 0; k < r.nodes.size(); ++k) {
      const int i = r.nodes[k];
      open = open || vented[i];
      r.space += net_->volume[i] - front.filled()[i];
      for (int e = net_->start[i]; e < net_->start[i + 1]; ++e)
        if (const int j = net_->to[e]; !front.full(j) && !mark_[j]) mark_[j] = 1, r.nodes.push_back(j);
    }
    int parent = gas_of_[seed];
    if (open)
      parent = -1;  // a pocket that has come upon an open vent empties
    else if (parent == -1 && !resolved(r, mean_volume))
      parent = -2;
    else if (parent == -1) {
      parent = static_cast<int>(gas_.size());
      const double push = front.push()[seed];
      gas_.push_back({-1, time, r.space, vent_pressure_ * r.space, r.nodes, push, push});
    }
    for (int i : r.nodes) gas_of_[i] = parent;
    if (parent >= 0) parent_space[parent] += r.space;
    parents.push_back(parent);
    regions_.push_back(std::move(r));
  }
  std::map<int, double> content;
  for (const auto& [g, space] : parent_space) content[g] = gas_[g].content;
  std::map<int, bool> taken;
  for (std::size_t k = 0; k < regions_.size(); ++k) {
    auto& r = regions_[k];
    const int parent = parents[k];
    if (parent < 0) continue;
    const double share = r.space / parent_space[parent];
    if (!taken[parent]) {  // the first part keeps the name, the others are new pockets
      taken[parent] = true;
      r.pocket = parent;
    } else {
      r.pocket = static_cast<int>(gas_.size());
      gas_.push_back({parent, time, r.space, 0, r.nodes, gas_[parent].push, gas_[parent].push});
      for (int i : r.nodes) gas_of_[i] = r.pocket;
    }
    gas_[r.pocket].content = content[parent] * share;
    gas_[r.pocket].yield = 0;
  }
}

bool Air::press(Front& front, double step, bool settled) {
  bool calm = true;
  for (const auto& r : regions_) {
    if (r.pocket < 0) continue;
    auto& gas = gas_[r.pocket];
    double space = 0, ways = 0;
    for (int i : r.nodes) {
      if (front.full(i)) continue;
      space += net_->volume[i] - front.filled()[i];
      for (int e = net_->start[i]; e < net_->start[i + 1]; ++e)
        if (front.full(net_->to[e])) ways += std::max(0.0, net_->t[e]);
    }
    // How much space it gains by a push: no more than if all the resin beside it stood still; less by what was seen.
    const double seen = (space - gas.seen_space) / (gas.push - gas.seen_push);
    if (settled && gas.push != gas.seen_push) gas.yield = std::clamp(seen, 0.01 * ways, ways);
    if (!(gas.yield > 0)) gas.yield = ways;
    gas.seen_space = space, gas.seen_push = gas.push;
    // A twentieth: no first guess squeezes the gas to nothing.
    space = std::max(space, 0.05 * r.space);
    const double p = gas.content / space, off = gas.pushed + step * (p - vent_pressure_) - gas.push;
    if (std::abs(off) <= gas_share * step * p) continue;
    calm = false;
    gas.push += off / (1 + step * p / space * gas.yield);
    for (int i : r.nodes)
      if (!front.full(i)) front.set_air(i, gas.push);
  }
  return calm;
}

void Air::undo() {
  for (auto& g : gas_) g.push = g.pushed;
}

}  // namespace gapfront
