#include "pipeline/summarise.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::pipeline {
namespace {

void front_of(StateOutcome& s, const Filling& f, const Closing& c) {
  s.fill_time = f.fill_time;
  s.balance = flow::least_balance(f.opening);
  s.local_margin = f.opening.place.minimum;
  s.closes = c.closes();
}

Chance drawn(double fraction, int runs) {
  return runs > 0 && fraction >= 0 ? conformity::chance_of(static_cast<int>(std::lround(fraction * runs)), runs)
                                   : Chance{};
}

}  // namespace

Outcome summarise(const Inspection& r) {
  const CorrectionPlan& plan = r.plan;
  Outcome out = r.outcome;
  out.obstacle = plan.obstacle;
  out.now.air = plan.air_now, out.after.air = plan.air_after, out.nominal.air = plan.air_nominal;
  const auto or_none = [](double area) { return std::isfinite(area) ? area : 0; };
  out.now.expected_dry = or_none(plan.now.expected_dry_area);
  out.after.expected_dry = or_none(plan.after.expected_dry_area);
  out.nominal.expected_dry = plan.dry_nominal;
  out.works = !plan.chosen.empty();
  front_of(out.now, r.filling, r.closing);
  front_of(out.nominal, r.nominal_filling, r.nominal_closing);
  if (out.now.air.draws == 0) {
    // The plan's own draws, where it made them: they are common to all its states.
    const bool common = std::isfinite(plan.now.pocket);
    out.now.air = drawn(common ? plan.now.pocket : r.ensemble.pocket, r.ensemble.runs);
    out.now.expected_dry = common                ? plan.now.expected_dry_area
                           : r.ensemble.runs > 0 ? r.ensemble.dry_area
                                                 : flow::dry_area(r.filling);
  }
  if (out.nominal.air.draws == 0) out.nominal.expected_dry = flow::dry_area(r.nominal_filling);
  out.now.out_area = out.now.out_low = out.now.out_high = plan.now.out_of_tolerance_area;
  if (!out.works) {
    out.after = out.now;
    return out;
  }
  front_of(out.after, r.filling_after, flow::close_mold(r.sheet, plan.gap_after, plan.laminate_after, plan.flow_after));
  if (out.after.air.draws == 0) {
    out.after.air = drawn(plan.after.pocket, r.ensemble.runs);
    out.after.expected_dry =
        std::isfinite(plan.after.pocket) ? plan.after.expected_dry_area : flow::dry_area(r.filling_after);
  }
  out.after.out_area = plan.out_after.mean;
  out.after.out_low = plan.out_after.low, out.after.out_high = plan.out_after.high;
  return out;
}

}  // namespace gapfront::pipeline
