#include "flow/rows.hpp"

#include <algorithm>

namespace gapfront::flow {

Rows::Rows(const std::vector<int>& start, const std::vector<int>& given) {
  const int n = static_cast<int>(start.size()) - 1;
  to.resize(static_cast<std::size_t>(kWide) * n);
  place.resize(given.size());
  more_of.assign(n, -1);
  for (int i = 0; i < n; ++i) {
    std::fill_n(to.begin() + kWide * i, kWide, i);
    const int begin = start[i], end = start[i + 1];
    const int middle =
        static_cast<int>(std::lower_bound(given.begin() + begin, given.begin() + end, i) - given.begin());
    // Those next to the diagonal stand in the row: a sweep along the rows has changed them last.
    const int first = std::max(begin, middle - kBelow), last = std::min(end, middle + kAbove);
    for (int e = first; e < last; ++e) place[e] = kWide * i + kBelow + (e - middle), to[place[e]] = given[e];
    if (first == begin && last == end) continue;
    More m{static_cast<int>(to.size()), 0, 0};
    const auto add = [&](int e) { place[e] = static_cast<int>(to.size()), to.push_back(given[e]); };
    for (int e = begin; e < first; ++e) add(e);
    m.above = static_cast<int>(to.size());
    for (int e = last; e < end; ++e) add(e);
    m.end = static_cast<int>(to.size());
    more_of[i] = static_cast<int>(more.size()), more.push_back(m);
  }
}

std::vector<double> Rows::laid(const std::vector<double>& values) const {
  std::vector<double> out(to.size(), 0.0);
  for (std::size_t e = 0; e < place.size(); ++e) out[place[e]] = values[e];
  return out;
}

}  // namespace gapfront::flow
