#include "core/statistics.hpp"

namespace gapfront {

double ranked_value(std::vector<double> v, double fraction) {
  if (v.empty()) return 0;
  const auto at = v.begin() + std::ptrdiff_t(fraction * double(v.size() - 1));
  std::nth_element(v.begin(), at, v.end());
  return *at;
}

double quantile(std::vector<double> v, double fraction) {
  std::sort(v.begin(), v.end());
  const double at = fraction * double(v.size() - 1);
  const auto k = static_cast<std::size_t>(at);
  return k + 1 < v.size() ? v[k] + (at - double(k)) * (v[k + 1] - v[k]) : v.back();
}

double weighted_percentile(std::vector<std::pair<double, double>> value_weight, double fraction) {
  if (value_weight.empty()) return 0;
  std::sort(value_weight.begin(), value_weight.end());
  double total = 0, sum = 0;
  for (const auto& [v, w] : value_weight) total += w;
  for (const auto& [v, w] : value_weight)
    if ((sum += w) >= fraction * total) return v;
  return value_weight.back().first;
}

}  // namespace gapfront
