// Shares of random draws, with what so many draws can tell.
#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "gapfront/outcome.hpp"

namespace gapfront::conformity {
namespace {

/// Clopper & Pearson's limits as quantiles of the beta distribution, which hold for counts that are not whole as well.
void set_interval(Chance& c, double hits, double draws) {
  constexpr double side = 0.025;  // on either side of a 95 % interval
  c.low = hits > 0 ? beta_quantile(side, hits, draws - hits + 1) : 0;
  c.high = hits < draws ? beta_quantile(1 - side, hits + 1, draws - hits) : 1;
}

}  // namespace

Chance chance_of(int hits, int draws) {
  Chance c;
  if (draws <= 0) return c;
  c.hits = hits, c.draws = draws, c.p = double(hits) / draws;
  set_interval(c, hits, draws);
  return c;
}

Chance weighted_chance(const std::vector<char>& hit, const std::vector<double>& weight) {
  Chance c;
  double sum = 0, all = 0, squares = 0;
  for (std::size_t k = 0; k < hit.size(); ++k) {
    sum += hit[k] ? weight[k] : 0, all += weight[k], squares += weight[k] * weight[k];
    c.hits += hit[k] != 0;
  }
  if (!(all > 0)) return Chance{};
  c.draws = static_cast<int>(hit.size());
  c.p = std::clamp(sum / all, 0.0, 1.0);
  const double as_many = all * all / squares;
  set_interval(c, c.p * as_many, as_many);
  return c;
}

}  // namespace gapfront::conformity
