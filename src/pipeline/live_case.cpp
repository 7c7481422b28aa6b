#include "pipeline/live_case.hpp"

#include <limits>

namespace gapfront::pipeline {

LiveCase live_case(const Inspection& r) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  const std::size_t n = r.sheet.size();
  LiveCase c;
  c.mesh = r.sheet.mesh;
  c.gap = r.flow_gap;
  c.low.assign(n, none), c.high.assign(n, none);
  for (std::size_t i = 0; i < n; ++i)
    if (r.gap.nodes[i].measured) c.low[i] = r.verdict.limits[i].low, c.high[i] = r.verdict.limits[i].high;
  if (r.breathing.computed) c.breathing = r.breathing.filling.move;
  c.laminate = r.job.laminate, c.flow = r.job.flow;
  c.corrections = r.plan.candidates;
  return c;
}

}  // namespace gapfront::pipeline
