// Histories that are kept for charts.
#pragma once
#include <cmath>
#include <vector>

namespace gapfront::flow {

/// Leaves no more than 400 samples, evenly by their number, the first and the last among them: finer than any chart.
template <class Sample>
void thin_out(std::vector<Sample>& history) {
  constexpr std::size_t kMost = 400;
  if (history.size() <= kMost) return;
  std::vector<Sample> kept;
  const double stride = double(history.size() - 1) / (kMost - 1);
  for (std::size_t k = 0; k < kMost; ++k) kept.push_back(history[std::size_t(std::lround(double(k) * stride))]);
  history = std::move(kept);
}

}  // namespace gapfront::flow
