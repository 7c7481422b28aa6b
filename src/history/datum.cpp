// Did a target move?
#include "history/datum.hpp"

#include <cmath>

#include "core/distributions.hpp"
#include "core/rigid_motion.hpp"
#include "history/frame_transform.hpp"

namespace gapfront::history {
namespace {

// A smaller excess of the faces' scatter is within what chance makes of it.
constexpr double kExcess = 1.5;
// Checked at every inspection, so it speaks at three sigma.
constexpr double kSigma = 3;

struct Half {
  std::vector<std::string> names;
  std::vector<Pair> pairs;
};

}  // namespace

std::optional<std::vector<DatumMove>> moved_targets(const Record& now, const Record& then, double inflation) {
  if (inflation < kExcess) inflation = 1;
  std::vector<DatumMove> out;
  bool checked = false;
  for (const bool lower : {true, false}) {
    Half half;
    for (const DatumPlace& a : then.datums)
      for (const DatumPlace& b : now.datums)
        if (a.name == b.name) {
          const double ua = inflation * std::max(kLeastU, lower ? a.u_lower : a.u_upper),
                       ub = inflation * std::max(kLeastU, lower ? b.u_lower : b.u_upper);
          half.names.push_back(a.name);
          half.pairs.push_back({lower ? b.lower : b.upper, lower ? a.lower : a.upper,
                                ub * ub * Eigen::Matrix3d::Identity(), ua * ua * Eigen::Matrix3d::Identity()});
        }
    const std::size_t n = half.pairs.size();
    if (n < 4) continue;  // three points always fit so well that none can be named
    checked = true;
    if (fit_pairs(half.pairs).chi2 <= chi2_limit(3.0 * n - 6, kSigma)) continue;
    // The one without which the others agree best.
    double minimum = INFINITY;
    DatumMove move;
    for (std::size_t i = 0; i < n; ++i) {
      auto others = half.pairs;
      others.erase(others.begin() + i);
      const PairFit fit = fit_pairs(others);
      if (fit.chi2 >= minimum) continue;
      minimum = fit.chi2;
      const double u = std::sqrt(half.pairs[i].from_cov(0, 0) + half.pairs[i].to_cov(0, 0));
      // The prediction by the others is about as uncertain as the target itself.
      move.name = half.names[i], move.half = lower ? "lower" : "upper";
      move.distance = (fit.motion * half.pairs[i].from - half.pairs[i].to).norm(), move.U = 2 * std::sqrt(2.0) * u;
    }
    if (minimum > chi2_limit(3.0 * (n - 1) - 6, kSigma)) move.several = true;
    out.push_back(move);
  }
  if (!checked) return std::nullopt;
  return out;
}

}  // namespace gapfront::history
