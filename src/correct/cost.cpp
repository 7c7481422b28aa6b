// How bad a state is, and what it costs over the run.
#include <algorithm>
#include <cmath>

#include "correct/state.hpp"

namespace gapfront::correct {
namespace {

// Share of the face that spoils half of the parts: from "a good part" of the sheet on (own choice).
constexpr double kSpoils = 0.05;
// Standard errors to either side: the usual level.
constexpr double kStandardErrors = 2;

/// What every part of the state has, as a chance that it spoils one.
double in_every_part(const Effect& e, const CureLimits& l, const LossScale& scale) {
  Effect gap = e;
  gap.dry_area = 0, gap.expected_dry_area = 0;
  double share = loss(gap, {scale.sheet_area, e.max_lead_s > l.lead_s ? scale.nominal_fill_time : 0});
  if (e.gel_fraction > 1) share += 1 - 1 / e.gel_fraction;
  if (e.closing_balance < l.safety) share += 1 - std::max(0.0, e.closing_balance) / l.safety;
  return share / (share + kSpoils);
}

/// Of the one filling where none were drawn.
double air_of(const Effect& e, const CureLimits& l) {
  return std::isfinite(e.pocket) ? e.pocket : e.dry_area > l.dry_area;
}

}  // namespace

double loss(const Effect& e, const LossScale& scale) {
  const double area = scale.sheet_area;
  double out = 0;
  const double dry = std::isfinite(e.expected_dry_area) ? e.expected_dry_area : e.dry_area;
  if (area > 0) {
    out += 0.5 * (e.nonconforming_area + e.out_of_tolerance_area) / area + dry / area;
    out += (e.over_packed_area + e.under_filled_area) / area;
  }
  if (scale.nominal_fill_time > 0) out += e.rms_lead_s / scale.nominal_fill_time;
  return out;
}

double chance_of_a_bad_part(const Effect& e, const CureLimits& l, const LossScale& scale) {
  return 1 - (1 - air_of(e, l)) * (1 - in_every_part(e, l, scale));
}

double cost_of_run(const Effect& e, const Prices& p, const CureLimits& l, const LossScale& scale) {
  const double material = p.glass * e.glass + p.resin * e.resin;
  return p.parts * (p.bad_part * chance_of_a_bad_part(e, l, scale) + material);
}

Saving saving(const Effect& a, const Effect& b, double hours, const Prices& p, const CureLimits& l,
              const LossScale& scale) {
  const std::size_t n = std::min(a.drawn.size(), b.drawn.size());
  const Effect before = with_draws(a, n), after = with_draws(b, n);
  const double out = cost_of_run(before, p, l, scale) - cost_of_run(after, p, l, scale) - hours * p.hour;
  if (n == 0) return {out, out, out};
  const double left_a = 1 - in_every_part(a, l, scale), left_b = 1 - in_every_part(b, l, scale);
  // One draw more of either kind of difference, so that few draws which agree do not pass for certainty (adjusted Wald
  // interval of paired proportions, Bonett & Price, J. Educ. Behav. Stat. 37, 2012; from memory).
  double sum = left_a - left_b, square = left_a * left_a + left_b * left_b, drawn = 0;
  for (std::size_t k = 0; k < n; ++k) {
    const double d = left_a * a.drawn[k].pocket - left_b * b.drawn[k].pocket;
    sum += d, square += d * d, drawn += d;
  }
  const double all = double(n + 2), u = std::sqrt(std::max(0.0, square - sum * sum / all) / (all - 1) / all);
  const double money = p.bad_part * p.parts, middle = out + money * (sum / all - drawn / double(n));
  return {out, std::min(out, middle - money * kStandardErrors * u),
          std::max(out, middle + money * kStandardErrors * u)};
}

}  // namespace gapfront::correct
