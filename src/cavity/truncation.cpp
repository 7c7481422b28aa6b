#include "cavity/truncation.hpp"
#include <algorithm>
#include <array>
#include <cmath>
#include <tuple>
#include <utility>
#include "core/neighbours.hpp"
#include "core/statistics.hpp"

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

/// Lower face, slope of the lower face, upper face, and one to spare for the sake of the processor.
using Kinds = Eigen::Array4d;

/// Means over the neighbourhood, in place; entries that are no number have no part and stay so.
void pool(std::vector<Kinds>& value, const Mesh& mesh, int passes) {
  const auto around = neighbours(mesh);
  std::vector<std::size_t> start(1, 0);
  std::vector<int> flat;
  for (const auto& list : around) flat.insert(flat.end(), list.begin(), list.end()), start.push_back(flat.size());
  std::vector<Kinds> known(value.size()), fraction(value.size());
  for (std::size_t i = 0; i < value.size(); ++i) {
    known[i] = value[i].isFinite().cast<double>();
    value[i] = (known[i] > 0).select(value[i], 0);
  }
  for (std::size_t i = 0; i < value.size(); ++i) {
    Kinds count = known[i];
    for (std::size_t k = start[i]; k < start[i + 1]; ++k) count += known[std::size_t(flat[k])];
    fraction[i] = (known[i] > 0).select(1 / count, 0);
  }
  std::vector<Kinds> next(value.size());
  for (int pass = 0; pass < passes; ++pass) {
    for (std::size_t i = 0; i < value.size(); ++i) {
      Kinds sum = value[i];
      for (std::size_t k = start[i]; k < start[i + 1]; ++k) sum += value[std::size_t(flat[k])];
      next[i] = fraction[i] * sum;
    }
    value.swap(next);
  }
  for (std::size_t i = 0; i < value.size(); ++i) value[i] = (known[i] > 0).select(value[i], std::nan(""));
}

}  // namespace

void pool_truncation(const Sheet& sheet, const std::vector<Witness>& witnesses, GapMap& map) {
  std::vector<double> reaches;
  for (const Witness& w : witnesses)
    if (w.reach > 0) reaches.push_back(w.reach);
  const auto parts = [&](std::size_t i) {
    const Witness& w = witnesses[i];
    return std::array{std::tuple(w.by_lower, &w.lower, &NodeGap::u_lower),
                      std::tuple(w.by_slope, &w.slope, &NodeGap::u_lower),
                      std::tuple(w.by_upper, &w.upper, &NodeGap::u_upper)};
  };
  std::vector<Kinds> excess(witnesses.size(), Kinds::Constant(std::nan(""))), weight = excess;
  std::array<std::vector<double>, 3> noise2;
  for (std::size_t i = 0; i < witnesses.size(); ++i) {
    Eigen::Index k = 0;
    for (const auto& [by, truncation, u] : parts(i)) {
      const double beyond = truncation->seen2 - truncation->noise2;
      if (map.nodes[i].measured && truncation->noise2 >= 0 && std::isfinite(beyond)) {
        excess[i][k] = beyond, weight[i][k] = truncation->noise2;
        noise2[std::size_t(k)].push_back(truncation->noise2);
      }
      ++k;
    }
  }
  // Fits across a few rows of points show anything: what is so uncertain has little part in the mean.
  for (Eigen::Index k = 0; k < 3; ++k) {
    const double usual = median(std::move(noise2[std::size_t(k)]));
    for (std::size_t i = 0; i < witnesses.size(); ++i) {
      if (!std::isfinite(excess[i][k])) continue;
      const double far = weight[i][k] / (usual > 0 ? usual : 1);
      weight[i][k] = 1 / std::max(1.0, far * far);
      excess[i][k] *= weight[i][k];
    }
  }
  const int passes = passes_for(median(reaches), sheet.edge_p50);
  pool(excess, sheet.mesh, passes), pool(weight, sheet.mesh, passes);
  for (std::size_t i = 0; i < witnesses.size(); ++i) {
    Eigen::Index k = 0;
    for (const auto& [by, truncation, u] : parts(i)) {
      const double prior = excess[i][k] / weight[i][k];
      ++k;
      if (!(prior > 0)) continue;
      const double trust = prior / (prior + truncation->noise2);
      const double expected = trust * trust * truncation->seen2 + prior * (1 - trust);
      if (expected <= truncation->counted2) continue;
      NodeGap& g = map.nodes[i];
      const double added = by * by * (expected - truncation->counted2);
      g.*u = std::sqrt(g.*u * g.*u + added);
      g.U = std::hypot(g.U, map.coverage * std::sqrt(added));
    }
  }
}

}  // namespace gapfront::cavity
