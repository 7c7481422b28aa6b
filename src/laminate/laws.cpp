// Permeability and compaction laws of one reinforcement.
#include <algorithm>
#include <cmath>

#include "gapfront/laminate.hpp"

namespace gapfront {
namespace {

// Straight line in (x, ln y) between rows; clamped to the end rows outside.
double log_linear(const std::vector<std::pair<double, double>>& rows, double x) {
  if (x <= rows.front().first) return rows.front().second;
  if (x >= rows.back().first) return rows.back().second;
  const auto hi = std::upper_bound(rows.begin(), rows.end(), x, [](double v, const auto& r) { return v < r.first; });
  const auto lo = hi - 1;
  const double t = (x - lo->first) / (hi->first - lo->first);
  return std::exp((1 - t) * std::log(lo->second) + t * std::log(hi->second));
}

// Straight line in (ln x, ln y) between rows, and on along the end rows outside: a compaction curve is close to
// a power law piecewise, and so goes to zero pressure at zero fibre instead of stopping at the first row.
double log_log(const std::vector<std::pair<double, double>>& rows, double x) {
  if (rows.size() == 1) return rows[0].second * std::pow(x / rows[0].first, 8.0);  // 8: B of about 1/8, usual for mats
  std::size_t k = 1;
  while (k + 1 < rows.size() && x > rows[k].first) ++k;
  const auto &a = rows[k - 1], &b = rows[k];
  const double slope = std::log(b.second / a.second) / std::log(b.first / a.first);
  return a.second * std::pow(x / a.first, slope);
}

}  // namespace

double PermeabilityLaw::at(double vf) const {
  switch (kind) {
    case Kind::power:
      return a * std::pow(vf, -b);
    case Kind::exponential:
      return a * std::exp(-b * vf);
    case Kind::kozeny_carman:
      return a * (1 - vf) * (1 - vf) * (1 - vf) / (vf * vf);
    case Kind::table:
      return table.empty() ? 0 : log_linear(table, vf);
  }
  return 0;
}

double CompactionLaw::pressure(double vf) const {
  if (vf <= 0) return 0;
  if (kind == Kind::table) return table.empty() ? 0 : log_log(table, vf);
  return a > 0 && b > 0 ? std::pow(vf / a, 1 / b) : 0;
}

}  // namespace gapfront
