#include "history/life.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/distributions.hpp"

namespace gapfront::history {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
// Scatter about the line that has a smaller chance than this is a bend: a few places at a few re-checks of a sound
// course then lose their cycles in one tool of some twenty.
constexpr double kBend = 0.005;
constexpr double kShortest = 0.1;  // of the run

/// By cycles; of dates that are close together the last.
std::vector<TrendPoint> spaced(std::vector<TrendPoint> points) {
  std::stable_sort(points.begin(), points.end(),
                   [](const TrendPoint& a, const TrendPoint& b) { return a.cycles < b.cycles; });
  std::vector<TrendPoint> out;
  if (points.empty()) return out;
  const double least = kShortest * (points.back().cycles - points.front().cycles);
  out.push_back(points.back());
  for (std::size_t k = points.size() - 1; k-- > 0;)
    if (out.back().cycles - points[k].cycles > std::max(least, 0.0) || (k == 0 && out.size() == 1 && least > 0))
      out.push_back(points[k]);
  std::reverse(out.begin(), out.end());
  return out;
}

std::array<double, 3> end_of(const Line& line, const End& e) {
  if (!e.growth) return crossing(line, e.limit, e.u_common);
  Line growth = line;
  growth.at_first = 0, growth.v00 = growth.v01 = 0;
  return crossing(growth, e.limit, e.u_common);
}

}  // namespace

Life life_of(const std::vector<TrendPoint>& points, const Line& all, const End& e, double now) {
  Life out;
  auto when = end_of(all, e);
  if (e.sign * all.rate <= 0) when[0] = when[2] = kNever;  // over all dates it goes away from the limit
  const auto from_now = [&](double x) { return std::isfinite(x) ? std::max(0.0, x - now) : 0; };
  out.low = from_now(when[1]);
  if (points.size() > 2) {
    double chi2 = 0;
    for (const TrendPoint& p : points)
      chi2 += std::pow((p.value - all.at_first - all.rate * (p.cycles - all.first)) / p.u, 2);
    out.bent = p_value(chi2, double(points.size()) - 2) < kBend;
    const std::vector<TrendPoint> some = spaced(points);
    if (some.size() > 2) {
      const std::vector<TrendPoint> two(some.end() - 2, some.end());
      End rest = e;  // the line of the last two starts higher than the first value
      if (e.growth)
        rest.growth = false, rest.limit += all.at_first, rest.u_common = std::hypot(e.u_common, std::sqrt(all.v00));
      const auto last = end_of(fit_line(two), rest);
      out.low = std::min(out.low, from_now(last[1]));
    }
  }
  out.left = std::max(0.0, when[0] - now), out.high = when[2] - now;
  out.enough = std::abs(all.rate) > all.t * all.u_rate && std::isfinite(when[2]);
  if (out.enough) out.high = std::max(0.0, out.high);
  if (out.bent) out.enough = false, out.low = 0, out.left = out.high = kNever;
  return out;
}

double fastest_pace(const std::vector<TrendPoint>& points, double sign) {
  const std::vector<TrendPoint> some = spaced(points);
  double out = 0;
  for (std::size_t k = 1; k < some.size(); ++k) {
    const double run = some[k].cycles - some[k - 1].cycles;
    if (run > 0)
      out = std::max(
          out, (sign * (some[k].value - some[k - 1].value) + kOneSided * std::hypot(some[k].u, some[k - 1].u)) / run);
  }
  return out;
}

}  // namespace gapfront::history
