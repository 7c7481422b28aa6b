#include "pipeline/density.hpp"

#include <algorithm>

#include "core/parallel.hpp"
#include "pipeline/undecided.hpp"

namespace gapfront::pipeline {

double BetweenPoints::unseen(double diameter) const {
  double all = 0, lower_without = 0, upper_without = 0;
  for (const Place& p : places) {
    all += p.area;
    if (p.lower > diameter / 2) lower_without += p.area;
    if (p.upper > diameter / 2) upper_without += p.area;
  }
  return all > 0 ? std::max(lower_without, upper_without) / all : 0;
}

BetweenPoints between_points(const Sheet& sheet, const GapMap& gap, const ClosedHalves& halves) {
  BetweenPoints out;
  out.lower = halves.lower.spacing(), out.upper = halves.upper.spacing();
  std::vector<BetweenPoints::Place> all(sheet.size());
  parallel_for(sheet.size(), [&](std::size_t i) {
    const NodeGap& g = gap.nodes[i];
    const Vec3 across = 0.5 * g.gap * g.direction;
    if (g.measured)
      all[i] = {halves.lower.nearest(g.mid - across).distance, halves.upper.nearest(g.mid + across).distance,
                sheet.area[i]};
  });
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (gap.nodes[i].measured)
      out.places.push_back(all[i]), out.largest = std::max({out.largest, 2 * all[i].lower, 2 * all[i].upper});
  return out;
}

void hold_verdict_to_points(Measured& m) {
  if (std::max(m.halves->lower.spacing(), m.halves->upper.spacing()) < kTouchedOneByOne) return;
  const BetweenPoints b = between_points(m.sheet, m.gap, *m.halves);
  const double wide = std::max(b.lower, b.upper), decides = m.verdict.rule.across;
  m.warnings.push_back(
      Message("warnings.between-points", {arg::length(b.lower, 1), arg::length(b.upper, 1), arg::length(b.largest, 0),
                                          arg::length(wide, 0), arg::fraction(b.unseen(wide))}));
  Verdict& v = m.verdict;
  const double chance = b.unseen(decides);
  // As much as may stay unmeasured, and no more, may be unseen.
  if (chance <= m.job.tolerance.unmeasured_fraction) return;
  leave_undecided(v, false, Message("verdict.points-too-far-apart", {arg::length(decides, 0), arg::fraction(chance)}));
}

}  // namespace gapfront::pipeline
