#include "history/course.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::history {

std::vector<TrendPoint> course_of(const Course& c, const std::vector<double>& h, double inflation,
                                  std::vector<std::size_t>* which) {
  std::vector<TrendPoint> out;
  const std::string& first = c.records[0].instrument;
  for (std::size_t k = 0; k < c.records.size(); ++k) {
    const GapMap& gap = c.records[k].gap;
    double value = 0;
    bool all = true;
    for (std::size_t i = 0; i < h.size(); ++i) {
      if (h[i] == 0) continue;
      all = all && gap.nodes[i].measured;
      value += h[i] * (gap.nodes[i].gap - (k ? c.since[k].rigid.part.effect[i] : 0));
    }
    if (!all) continue;
    double u = 0;
    if (k == 0) {
      const SumErrors e = sum_errors(c.sheet, gap, c.shared[k], h);
      u = std::hypot(inflation * e.fits(), c.held ? e.registration : 0);
    } else {
      // What the seat's change takes along was measured at both dates.
      const auto now = c.since[k].on_rest(c.sheet, h);
      auto then = h;
      for (std::size_t i = 0; i < h.size(); ++i) then[i] -= now[i];
      const SumErrors e = sum_errors(c.sheet, gap, c.shared[k], now);
      const bool same = !c.records[k].instrument.empty() && c.records[k].instrument == first;
      u = std::hypot(inflation * std::hypot(e.fits(), sum_errors(c.sheet, c.records[0].gap, c.shared[0], then).fits()),
                     std::hypot(same ? 0 : e.instrument, c.held ? e.registration : 0),
                     c.since[k].carry.u(by_node(now)));
    }
    out.push_back({c.records[k].cycles, value, std::max(u, 1e-5)});
    if (which) which->push_back(k);
  }
  return out;
}

Present present_of(const Course& c, const std::vector<double>& h, double inflation) {
  const GapMap& gap = c.records[c.now].gap;
  Present out;
  for (std::size_t i = 0; i < h.size(); ++i)
    if (h[i] != 0) out.value += h[i] * gap.nodes[i].gap;
  const SumErrors e = sum_errors(c.sheet, gap, c.shared[c.now], h);
  out.u = std::hypot(inflation * e.fits(), e.common()), out.U = gap.coverage * out.u;
  return out;
}

}  // namespace gapfront::history
