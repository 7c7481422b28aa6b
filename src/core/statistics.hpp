// Order statistics: one definition each.
#pragma once
#include <algorithm>
#include <iterator>
#include <utility>
#include <vector>

namespace gapfront {

/// σ of a Gaussian from the median of |x| (Hampel 1974).
constexpr double kMadToSigma = 1.4826;

/// The middle value, of an even number the upper of the two; 0 for an empty range, whose order is changed.
template <class It>
auto median_in_place(It first, It last) {
  if (first == last) return typename std::iterator_traits<It>::value_type(0);
  const It middle = first + (last - first) / 2;
  std::nth_element(first, middle, last);
  return *middle;
}
template <class T>
T median(std::vector<T> v) {
  return median_in_place(v.begin(), v.end());
}

/// Standard deviation from the sizes of residuals; outliers do not inflate it.
inline double robust_sigma(std::vector<double> sizes) { return kMadToSigma * median(std::move(sizes)); }

/// The value of rank fraction · (n − 1), rounded down: one that is in the list. 0 for an empty list.
double ranked_value(std::vector<double> v, double fraction);

/// The value at rank fraction · (n − 1), linear between two (Hyndman & Fan 1996, type 7). The list must not be empty.
double quantile(std::vector<double> v, double fraction);

/// The value below which `fraction` of the weight lies; 0 for an empty list. Sorts by value, ties by weight.
double weighted_percentile(std::vector<std::pair<double, double>> value_weight, double fraction);

}  // namespace gapfront
