#include "gapfront/workmanship.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <random>

#include "core/parallel.hpp"
#include "correct/shims.hpp"

namespace gapfront::correct {
namespace {

// Waves that a field is a sum of: their sum is normal for any number; so many make its correlation smooth.
constexpr int kSwells = 48;

/// One correction: what each of a few normal numbers adds to the gap at each node it touches.
struct Doubtful {
  std::vector<int> nodes;
  Eigen::MatrixXd per_number;  ///< nodes × numbers, mm
};

/// Depths by hand: Σ aₖ cos(wₖ·x) + bₖ sin(wₖ·x) with normal aₖ, bₖ has the same variance everywhere, and with wave
/// vectors of normal length 1/reach the correlation exp(−r²/2 reach²).
Doubtful by_hand(const Sheet& sheet, const Correction& c, const Workmanship& w, std::mt19937_64& random) {
  Doubtful out;
  for (std::size_t i = 0; i < c.gap_change.size(); ++i)
    if (c.gap_change[i] != 0) out.nodes.push_back(static_cast<int>(i));
  out.per_number.resize(static_cast<long>(out.nodes.size()), 2 * kSwells);
  std::normal_distribution<double> normal;
  for (int k = 0; k < kSwells; ++k) {
    Vec3 wave;
    for (int d = 0; d < 3; ++d) wave[d] = normal(random) / w.reach;
    for (long r = 0; r < out.per_number.rows(); ++r) {
      const int i = out.nodes[r];
      const double scale = std::min(w.hand, 0.5 * std::abs(c.gap_change[i])) / std::sqrt(double(kSwells));
      const double phase = wave.dot(sheet.mesh.points[i]);
      out.per_number(r, 2 * k) = scale * std::cos(phase), out.per_number(r, 2 * k + 1) = scale * std::sin(phase);
    }
  }
  return out;
}

/// Stacks: the half sits on the least-squares plane through the tops of those that carry. Flanges lie across the tool's
/// z, as the stacks do.
Doubtful by_shims(const Sheet& sheet, const GapMap& map, const Correction& c, double u) {
  std::vector<Vec3> at;
  for (const auto& s : c.shims)
    if (s.carries_gap <= kFeeler) at.push_back(s.at);
  Doubtful out;
  if (at.empty()) return out;
  Vec3 middle = Vec3::Zero();
  for (const Vec3& p : at) middle += p / static_cast<double>(at.size());
  Eigen::MatrixXd a(static_cast<long>(at.size()), 3);
  for (std::size_t k = 0; k < at.size(); ++k)
    a.row(static_cast<long>(k)) << 1, at[k].x() - middle.x(), at[k].y() - middle.y();
  // Fewer than three, or in a row: the pseudo-inverse leaves alone the tilt that they do not hold.
  const Eigen::MatrixXd plane = u * a.completeOrthogonalDecomposition().pseudoInverse();
  out.per_number.resize(static_cast<long>(sheet.size()), plane.cols());
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    out.nodes.push_back(static_cast<int>(i));
    const Vec3 d = sheet.mesh.points[i] - middle;
    const double fraction = map.nodes[i].measured ? map.nodes[i].direction.z() : sheet.normals[i].z();
    out.per_number.row(static_cast<long>(i)) = fraction * Eigen::RowVector3d(1, d.x(), d.y()) * plane;
  }
  return out;
}

double area_out(const Sheet& sheet, const GapMap& map, const std::vector<NodeLimits>& limits,
                const std::vector<double>& gap) {
  double out = 0;
  for (std::size_t i = 0; i < gap.size(); ++i)
    if (map.nodes[i].measured && (gap[i] > limits[i].high || gap[i] < limits[i].low)) out += sheet.area[i];
  return out;
}

}  // namespace

OutArea out_after_work(const Sheet& sheet, const GapMap& map, const std::vector<NodeLimits>& limits,
                       const std::vector<double>& gap, const std::vector<const Correction*>& worked,
                       const Workmanship& w, int draws, unsigned seed) {
  std::mt19937_64 random(seed);
  std::vector<Doubtful> parts;
  for (const Correction* c : worked) {
    if ((c->kind == Kind::build_up || c->kind == Kind::relief) && w.hand > 0)
      parts.push_back(by_hand(sheet, *c, w, random));
    if (c->kind == Kind::shim && w.shim > 0) parts.push_back(by_shims(sheet, map, *c, w.shim));
  }
  parts.erase(std::remove_if(parts.begin(), parts.end(), [](const auto& p) { return p.nodes.empty(); }), parts.end());
  const double planned = area_out(sheet, map, limits, gap);
  if (parts.empty() || draws < 1) return {planned, planned, planned};

  std::vector<double> areas(draws);
  parallel_for(
      static_cast<std::size_t>(draws),
      [&](std::size_t d) {
        std::seed_seq one{seed, static_cast<unsigned>(d)};
        std::mt19937_64 own(one);
        std::normal_distribution<double> normal;
        std::vector<double> got = gap;
        for (const auto& p : parts) {
          Eigen::VectorXd z(p.per_number.cols());
          for (long k = 0; k < z.size(); ++k) z[k] = normal(own);
          const Eigen::VectorXd add = p.per_number * z;
          for (std::size_t r = 0; r < p.nodes.size(); ++r) got[p.nodes[r]] += add[static_cast<long>(r)];
        }
        areas[d] = area_out(sheet, map, limits, got);
      },
      8);
  OutArea out;
  for (const double a : areas) out.mean += a / draws;
  std::sort(areas.begin(), areas.end());
  const auto fraction = [&](double q) { return areas[static_cast<std::size_t>(std::lround(q * (draws - 1)))]; };
  out.low = fraction(0.025), out.high = fraction(0.975);
  return out;
}

}  // namespace gapfront::correct
