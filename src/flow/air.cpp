#include "flow/air.hpp"

#include <algorithm>
#include <map>
#include <numeric>

namespace gapfront {
namespace {

// A region of one or two nodes, or of less room than three average nodes have, that gets cut off is the raggedness of
// the front on the mesh, not a pocket that the mesh can resolve; its air is let out. A pocket that was larger when it
// closed keeps its air to the end.
constexpr int least_nodes = 3;

bool resolved(const DryRegion& r, double mean_volume) {
  return r.nodes.size() >= least_nodes && r.space >= least_nodes * mean_volume;
}

}  // namespace

bool Air::any_pocket() const {
  return std::any_of(regions_.begin(), regions_.end(), [](const auto& r) { return r.pocket >= 0; });
}

void Air::refresh(const std::vector<double>& filled) {
  for (auto& r : regions_) {
    r.space = 0;
    for (int i : r.nodes) r.space += net_.volume[i] - filled[i];
  }
}

void Air::relabel(const std::vector<char>& full, const std::vector<double>& filled, const std::vector<char>& vented,
                  double time) {
  const double mean_volume = std::accumulate(net_.volume.begin(), net_.volume.end(), 0.0) / std::max(net_.size(), 1);
  regions_.clear();
  std::fill(mark_.begin(), mark_.end(), 0);
  std::map<int, double> parent_space;  // a pocket that falls apart shares its gas out by volume
  std::vector<int> parents;
  for (int seed = 0; seed < net_.size(); ++seed) {
    if (full[seed] || mark_[seed]) continue;
    DryRegion r;
    r.nodes = {seed};
    mark_[seed] = 1;
    bool open = false;
    for (std::size_t k = 0; k < r.nodes.size(); ++k) {
      const int i = r.nodes[k];
      open = open || vented[i];
      r.space += net_.volume[i] - filled[i];
      for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
        if (const int j = net_.to[e]; !full[j] && !mark_[j]) mark_[j] = 1, r.nodes.push_back(j);
    }
    int parent = gas_of_[seed];
    if (open)
      parent = -1;  // a pocket that has come upon an open vent empties
    else if (parent == -1 && !resolved(r, mean_volume))
      parent = -2;
    else if (parent == -1) {
      parent = static_cast<int>(gas_.size());
      gas_.push_back({-1, time, r.space, vent_pressure_ * r.space, r.nodes});
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
      gas_.push_back({parent, time, r.space, 0, r.nodes});
      for (int i : r.nodes) gas_of_[i] = r.pocket;
    }
    gas_[r.pocket].content = content[parent] * share;
  }
}

}  // namespace gapfront
