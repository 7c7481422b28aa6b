// Regions: seeds that are provably outside, grown to where the deviation drowns in the noise.
#include "conformity/regions.hpp"

#include <algorithm>
#include <cmath>

#include "core/area_mean.hpp"
#include "core/linear.hpp"
#include "core/neighbours.hpp"
#include "core/outline.hpp"
#include "core/statistics.hpp"

namespace gapfront::conformity {
namespace {

// Growth stops at two σ of the smoothed field: beyond it one node in twenty would join by chance, and the rim of a
// defect no longer stands out.
constexpr double kGrowSigmas = 2;
// … but never above 15 % of the peak, so that a rough face does not eat the footprint of its defect, and never below
// 2 %, where a smooth defect of any shape has flattened out and the edge has no meaning.
constexpr double kGrowMost = 0.15, kGrowLeast = 0.02;

template <class Accept>
std::vector<int> flood(int seed, const std::vector<std::vector<int>>& around, std::vector<int>& mark, int id,
                       Accept accept) {
  std::vector<int> out{seed};
  mark[seed] = id;
  for (std::size_t k = 0; k < out.size(); ++k)
    for (const int j : around[out[k]])
      if (mark[j] != id && accept(j)) mark[j] = id, out.push_back(j);
  return out;
}

/// Height of a quadric fitted over two rings around the top node: averages the noise of some nineteen nodes, where the
/// greatest single node would be biased upwards. On (1 − r²)² fitted to r = 0.8 the truncation is −a⁴/6 = −7 %.
double robust_peak(const Sheet& sheet, const std::vector<double>& f, const std::vector<std::vector<int>>& around,
                   int top, double sign) {
  std::vector<int> ring{top};
  for (int rings = 0, begin = 0; rings < 2; ++rings) {
    const int end = static_cast<int>(ring.size());
    for (; begin < end; ++begin)
      for (const int j : around[ring[begin]])
        if (std::isfinite(f[j]) && sign * f[j] > 0 && std::find(ring.begin(), ring.end(), j) == ring.end())
          ring.push_back(j);
  }
  if (ring.size() < 9) return f[top];  // six unknowns: fewer points would follow the noise
  const Vec3 n = sheet.normals[top];
  const Vec3 e1 = n.unitOrthogonal(), e2 = n.cross(e1);
  Eigen::MatrixXd a(ring.size(), 6);
  Eigen::VectorXd b(ring.size());
  for (std::size_t k = 0; k < ring.size(); ++k) {
    const Vec3 r = sheet.mesh.points[ring[k]] - sheet.mesh.points[top];
    const double x = r.dot(e1), y = r.dot(e2);
    a.row(k) << 1, x, y, x * x, x * y, y * y;
    b[k] = sign * f[ring[k]];
  }
  const Eigen::VectorXd fitted = a * least_squares(a, b);
  // The first entries are the top and its own neighbours; the apex lies among them.
  double peak = fitted[0];
  for (std::size_t k = 1; k < std::min<std::size_t>(ring.size(), 7); ++k) peak = std::max(peak, fitted[k]);
  return sign * peak;
}

/// Of an area-weighted mean over nodes. On the remainder, what the rigid fit absorbs is taken out again.
SumErrors mean_errors(const Sheet& sheet, const GapMap& gap, const SharedFits& shared, const RigidFit& fit,
                      const std::vector<int>& nodes, bool on_remainder) {
  auto h = mean_weights(sheet, gap, nodes);
  return sum_errors(sheet, gap, shared, on_remainder ? fit.on_remainder(sheet, gap, std::move(h)) : h);
}

}  // namespace

std::vector<DeviationRegion> find_regions(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                                          const RigidFit& fit, const std::vector<double>& field, bool on_remainder,
                                          double min_area) {
  const auto around = neighbours(sheet.mesh);
  // To segment only; sizes come from the raw field.
  const auto smooth = smoothed(field, around, 1);
  std::vector<std::pair<double, double>> spread;
  for (std::size_t i = 0; i < field.size(); ++i)
    if (std::isfinite(smooth[i])) spread.push_back({std::abs(smooth[i]), sheet.area[i]});
  const double noise = kMadToSigma * weighted_percentile(spread, 0.5);

  // How far past its limit a node is, at least by U for the node itself and on average over its neighbourhood.
  const auto over = [&](int i, double value) {
    return std::max(value - (limits[i].high - limits[i].nominal), (limits[i].low - limits[i].nominal) - value);
  };
  const auto outside = [&](int i) {
    return std::isfinite(field[i]) && over(i, field[i]) > gap.nodes[i].U && over(i, smooth[i]) > 0;
  };

  // Seeds in the order of how far they stand out, so that each region grows to the level of its own peak.
  std::vector<int> seeds;
  for (int i = 0; i < static_cast<int>(field.size()); ++i)
    if (outside(i)) seeds.push_back(i);
  std::stable_sort(seeds.begin(), seeds.end(), [&](int a, int b) { return std::abs(smooth[a]) > std::abs(smooth[b]); });
  const SharedFits shared = seeds.empty() ? SharedFits() : shared_fits(sheet, gap);
  std::vector<int> mark(field.size(), -1);
  std::vector<char> taken(field.size(), 0);
  std::vector<DeviationRegion> out;
  for (const int seed : seeds) {
    if (taken[seed]) continue;
    const double sign = smooth[seed] > 0 ? 1 : -1;
    DeviationRegion r;
    r.high = sign > 0;
    r.on_remainder = on_remainder;
    r.level = std::clamp(kGrowSigmas * noise, kGrowLeast * std::abs(smooth[seed]), kGrowMost * std::abs(smooth[seed]));
    const auto accept = [&](int j) { return !taken[j] && std::isfinite(smooth[j]) && sign * smooth[j] > r.level; };
    r.nodes = flood(seed, around, mark, seed, accept);
    std::sort(r.nodes.begin(), r.nodes.end());
    double weight = 0, over_mean = 0;
    std::vector<int> core;
    for (const int i : r.nodes) {
      taken[i] = 1;
      const double w = sheet.area[i] * std::abs(field[i]);
      r.area += sheet.area[i];
      r.volume += sheet.area[i] * field[i];
      r.centre += w * sheet.mesh.points[i];
      weight += w;
      if (outside(i)) {
        core.push_back(i);
        r.out_area += sheet.area[i];
        over_mean += sheet.area[i] * over(i, field[i]);
      }
    }
    if (r.area < min_area) continue;
    r.centre /= weight;
    r.mean = r.volume / r.area;
    // No more than any node has: where the top is sharp, the quadric goes beyond it.
    double most = 0;
    for (const int i : r.nodes) most = std::max(most, sign * field[i]);
    r.peak = sign * std::min(most, sign * robust_peak(sheet, field, around, seed, sign));
    const double k = gap.coverage;
    const SumErrors e = mean_errors(sheet, gap, shared, fit, r.nodes, on_remainder);
    r.mean_U = k * e.u(), r.mean_U_independent = k * e.fits(), r.mean_U_common = k * e.common();
    r.decision = over_mean / r.out_area > k * mean_errors(sheet, gap, shared, fit, core, on_remainder).u()
                     ? Conformity::nonconforming
                     : Conformity::undecided;
    std::vector<double> level(field.size(), -r.level);
    for (std::size_t i = 0; i < field.size(); ++i)
      if (std::isfinite(smooth[i]))
        level[i] = std::min(sign * smooth[i] - r.level, mark[i] == seed ? r.level + 1e9 : -1e-6);
    r.outline = outline_of(sheet.mesh, level);
    out.push_back(std::move(r));
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const auto& a, const auto& b) { return std::abs(a.volume) > std::abs(b.volume); });
  for (std::size_t k = 0; k < out.size(); ++k) out[k].name = "R" + std::to_string(k + 1);
  return out;
}

}  // namespace gapfront::conformity
