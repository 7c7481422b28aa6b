// Weighted order statistics.
#pragma once
#include <algorithm>
#include <utility>
#include <vector>

namespace gapfront {

/// The value below which `share` of the weight lies; 0 for an empty list. Sorts by value, ties by weight.
inline double weighted_percentile(std::vector<std::pair<double, double>> value_weight, double fraction) {
  if (value_weight.empty()) return 0;
  std::sort(value_weight.begin(), value_weight.end());
  double total = 0, sum = 0;
  for (const auto& [v, w] : value_weight) total += w;
  for (const auto& [v, w] : value_weight)
    if ((sum += w) >= fraction * total) return v;
  return value_weight.back().first;
}

}  // namespace gapfront
