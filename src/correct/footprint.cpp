#include "correct/footprint.hpp"

#include <algorithm>
#include <queue>

namespace gapfront::correct {
namespace {

// Wider by a quarter each time, so that the neck is little wider than it must be; ten times make it nine times as wide,
// past any distance at which regions are merged.
constexpr double kWiden = 1.25;
constexpr int kWidenings = 10;

}  // namespace

std::vector<double> distance_from(const Sheet& sheet, const std::vector<std::vector<int>>& around,
                                  const std::vector<char>& marked, double far) {
  std::vector<double> out(sheet.size(), far);
  std::priority_queue<std::pair<double, int>, std::vector<std::pair<double, int>>, std::greater<>> open;
  for (int i = 0; i < static_cast<int>(sheet.size()); ++i)
    if (marked[i]) open.push({out[i] = 0, i});
  while (!open.empty()) {  // Dijkstra 1959
    const auto [d, i] = open.top();
    open.pop();
    if (d > out[i]) continue;
    for (const int j : around[i]) {
      const double e = d + (sheet.mesh.points[j] - sheet.mesh.points[i]).norm();
      if (e < out[j]) open.push({out[j] = e, j});
    }
  }
  return out;
}

std::vector<double> workable(const Sheet& sheet, const std::vector<std::vector<int>>& around,
                             const std::vector<char>& marked, double across) {
  const double r = 0.5 * across;
  // Far enough for what follows; a region as large as the sheet ends at its rim and nowhere else.
  const double far = 1e4;
  const auto from_marked = distance_from(sheet, around, marked, far);
  std::vector<char> outside(sheet.size());
  for (std::size_t i = 0; i < outside.size(); ++i) outside[i] = from_marked[i] > r;
  const auto depth = distance_from(sheet, around, outside, far);
  const double widest = *std::max_element(depth.begin(), depth.end());
  const double back = std::clamp(widest - r, 0.0, r);
  std::vector<double> out(sheet.size());
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = (outside[i] ? r - from_marked[i] : depth[i]) - back;
  // Two rounds of averaging round off the steps of the mesh.
  for (int round = 0; round < 2; ++round) {
    auto next = out;
    for (std::size_t i = 0; i < out.size(); ++i) {
      double sum = 0;
      for (const int j : around[i]) sum += out[j];
      if (!around[i].empty()) next[i] = 0.5 * out[i] + 0.5 * sum / static_cast<double>(around[i].size());
    }
    out = std::move(next);
  }
  return out;
}

std::vector<double> one_piece(const Sheet& sheet, const std::vector<std::vector<int>>& around,
                              const std::vector<char>& marked, double across) {
  const auto connected = [&](const std::vector<double>& f) {
    std::vector<char> seen(f.size(), 0);
    std::vector<int> open;
    std::size_t inside = 0, reached = 0;
    for (std::size_t i = 0; i < f.size(); ++i)
      if (f[i] > 0 && ++inside == 1) open.push_back(static_cast<int>(i)), seen[i] = 1;
    for (; !open.empty(); ++reached) {
      const int i = open.back();
      open.pop_back();
      for (const int j : around[i])
        if (f[j] > 0 && !seen[j]) open.push_back(j), seen[j] = 1;
    }
    return reached == inside;
  };
  auto out = workable(sheet, around, marked, across);
  for (int k = 0; k < kWidenings && !connected(out); ++k) out = workable(sheet, around, marked, across *= kWiden);
  return out;
}

}  // namespace gapfront::correct
