#include "cavity/truncation.hpp"
#include <algorithm>
#include <cmath>
#include "geometry/neighbours.hpp"

namespace gapfront::cavity {

namespace {

/// Passes of averaging with the neighbours: a walk of P steps of an edge e spreads to e·√(0.43 P) per direction (a
/// node and its six). Two fit radii hold some 32 fits whose differences are independent (each is good for 1.5 r²),
/// which know τ² to a quarter of the noise; on the coarsest sheets five passes mix 31 nodes. 400: a spread of 13 edges,
/// enough for radii up to 6 edges, and a tenth of a second on 20,000 nodes.
int passes_for(double reach, double edge) {
  const double ratio = edge > 0 ? reach / edge : 1;
  return int(std::clamp(9.3 * ratio * ratio, 5.0, 400.0));
}

double median(std::vector<double> v) {
  if (v.empty()) return 0;
  std::nth_element(v.begin(), v.begin() + v.size() / 2, v.end());
  return v[v.size() / 2];
}

/// Means over the neighbourhood; entries that are no number have no part.
std::vector<double> pooled(std::vector<double> value, const std::vector<std::vector<int>>& around, int passes) {
  std::vector<double> next = value;
  for (int pass = 0; pass < passes; ++pass) {
    for (std::size_t i = 0; i < value.size(); ++i) {
      if (!std::isfinite(value[i])) continue;
      double sum = value[i];
      int count = 1;
      for (int j : around[i])
        if (std::isfinite(value[j])) sum += value[j], ++count;
      next[i] = sum / count;
    }
    value.swap(next);
  }
  return value;
}

}  // namespace

void pool_truncation(const Sheet& sheet, const std::vector<Witness>& witnesses, GapMap& map) {
  const auto around = neighbours(sheet.mesh);
  std::vector<double> reaches;
  for (const Witness& w : witnesses)
    if (w.reach > 0) reaches.push_back(w.reach);
  const int passes = passes_for(median(reaches), sheet.edge_p50);
  const auto pool = [&](double Witness::*by, Truncation Witness::*part, double NodeGap::*u) {
    std::vector<double> excess(witnesses.size(), std::nan(""));
    for (std::size_t i = 0; i < witnesses.size(); ++i)
      if (const Truncation& t = witnesses[i].*part; map.nodes[i].measured && t.noise2 >= 0)
        excess[i] = t.seen2 - t.noise2;
    excess = pooled(std::move(excess), around, passes);
    for (std::size_t i = 0; i < witnesses.size(); ++i) {
      const Truncation& t = witnesses[i].*part;
      if (!(excess[i] > 0)) continue;
      const double prior = excess[i], trust = prior / (prior + t.noise2);
      const double expected = trust * trust * t.seen2 + prior * (1 - trust);
      if (expected <= t.counted2) continue;
      NodeGap& g = map.nodes[i];
      const double added = (witnesses[i].*by) * (witnesses[i].*by) * (expected - t.counted2);
      g.*u = std::sqrt(g.*u * g.*u + added);
      g.U = std::hypot(g.U, map.coverage * std::sqrt(added));
    }
  };
  pool(&Witness::by_lower, &Witness::lower, &NodeGap::u_lower);
  pool(&Witness::by_slope, &Witness::slope, &NodeGap::u_lower);
  pool(&Witness::by_upper, &Witness::upper, &NodeGap::u_upper);
}

}  // namespace gapfront::cavity
