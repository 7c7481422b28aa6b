// The verdict on a gap map: per node, per region, overall, and what it says.
#include <cmath>
#include <limits>
#include <numeric>

#include "conformity/better.hpp"
#include "conformity/part.hpp"
#include "conformity/places.hpp"
#include "conformity/regions.hpp"
#include "core/area_mean.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/rigid_part.hpp"

namespace gapfront::conformity {
namespace {

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
// Risks up to it are told.
constexpr double kStatedRisk = 0.05;

/// To a tenth of a per cent, upwards: "at most" must hold, and no measurement is without risk.
double round_up(double risk) { return std::max(0.001, std::ceil(1000 * risk - 1e-9) / 1000); }

// About forty bars read well at the width of a page.
constexpr double kBars = 40;

void statistics(Verdict& v, const Sheet& sheet) {
  std::vector<std::pair<double, double>> d;
  double total = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (std::isfinite(v.deviation[i])) {
      d.push_back({v.deviation[i], sheet.area[i]});
      v.mean += sheet.area[i] * v.deviation[i];
      total += sheet.area[i];
    }
  if (total == 0) return;
  v.mean /= total;
  double variance = 0;
  for (const auto& [x, w] : d) variance += w * (x - v.mean) * (x - v.mean);
  v.sigma = std::sqrt(variance / total);
  v.p05 = weighted_percentile(d, 0.05), v.p50 = weighted_percentile(d, 0.5), v.p95 = weighted_percentile(d, 0.95);
  v.minimum = weighted_percentile(d, 0), v.maximum = weighted_percentile(d, 1);
  for (const auto& [x, w] : d) v.minimum = std::min(v.minimum, x), v.maximum = std::max(v.maximum, x);

  // Bin width of 1, 2 or 5 times a power of ten; bins are centred on multiples of it, so one is centred on zero.
  const double raw = std::max((v.maximum - v.minimum) / kBars, 1e-4);  // 0.1 µm: no scan resolves less
  const double decade = std::pow(10, std::floor(std::log10(raw)));
  const double width = raw <= decade       ? decade
                       : raw <= 2 * decade ? 2 * decade
                       : raw <= 5 * decade ? 5 * decade
                                           : 10 * decade;
  const long first = std::lround(v.minimum / width), last = std::lround(v.maximum / width);
  for (long k = first; k <= last; ++k) v.histogram.push_back({k * width, 0});
  for (const auto& [x, w] : d) v.histogram[std::lround(x / width) - first].second += w / total;
}

/// The farthest node past its limit among those of one class; -1 if there is none.
int worst_node(const Verdict& v, const GapMap& gap, const std::vector<NodeLimits>& limits, Conformity c) {
  int worst = -1;
  double most = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < v.node.size(); ++i) {
    if (v.node[i] != c) continue;
    const double y = gap.nodes[i].gap, over = std::max(y - limits[i].high, limits[i].low - y);
    if (over > most) most = over, worst = static_cast<int>(i);
  }
  return worst;
}

SmallOutside small_outside_of(const std::vector<int>& nodes, const Sheet& sheet, const GapMap& gap,
                              const std::vector<NodeLimits>& limits) {
  SmallOutside out;
  double most = 0;
  for (const int i : nodes) {
    out.area += gap.judged_area(sheet, std::size_t(i));
    const double over = std::max(gap.nodes[i].gap - limits[i].high, limits[i].low - gap.nodes[i].gap);
    if (over > most) most = over, out.deviation = gap.nodes[i].gap - limits[i].nominal, out.at = sheet.mesh.points[i];
  }
  return out;
}

/// What stands beside the word: what lies outside without deciding, and the risk of the word being wrong.
Text beside_the_word(const Verdict& v) {
  Text out;
  if (const SmallOutside& s = v.small_outside; s.area > 0)
    out.push_back(Message("verdict.small-places-outside", {arg::length(v.rule.across, 0), arg::area(s.area),
                                                           arg::length(s.deviation, 2, true), arg::place(s.at, 2)}));
  if (v.overall == Conformity::conforming && v.consumer_risk <= kStatedRisk)
    out.push_back(Message("verdict.consumer-risk", {arg::fraction(round_up(v.consumer_risk))}));
  if (v.overall == Conformity::nonconforming && v.producer_risk <= kStatedRisk)
    out.push_back(Message("verdict.producer-risk", {arg::fraction(round_up(v.producer_risk))}));
  return out;
}

Text headline(const Verdict& v, const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
              double area) {
  const auto share = [&](Conformity c) { return v.fraction[static_cast<int>(c)]; };
  const double out = share(Conformity::nonconforming), open = share(Conformity::undecided);
  const double blank = share(Conformity::not_measured);
  const auto of_area = [&](double part) { return std::vector<Argument>{arg::fraction(part), arg::area(part * area)}; };
  const auto said = [](const char* id, std::vector<Argument> a, std::vector<Argument> more = {}) {
    a.insert(a.end(), more.begin(), more.end());
    return Message(id, std::move(a));
  };
  Text text{verdict_word(v.overall, false)};
  switch (v.overall) {
    case Conformity::not_measured:
      text.push_back(Message("page.no-place-sheet-has"));
      return text;
    case Conformity::nonconforming: {
      const int i = worst_node(v, gap, limits, Conformity::nonconforming);
      text.push_back(
          said(v.deviation[i] > 0 ? "page.gap-provably-outside-limits" : "page.gap-provably-outside-limits-over",
               of_area(out), {arg::length(v.deviation[i], 2, true), arg::place(sheet.mesh.points[i], 2)}));
      break;
    }
    case Conformity::conforming:
      text.push_back(Message("page.gap-provably-within-limits",
                             {arg::fraction(share(Conformity::conforming)), arg::length(v.minimum, 2, true),
                              arg::length(v.maximum, 2, true)}));
      break;
    default:  // undecided: near a limit, not measured, or both; in each case nothing, or no more than allowed, is out
      if (open > 0 && blank > 0)
        text.push_back(said(out > 0 ? "page.no-more-than-allowed-provably" : "page.nothing-provably-outside-limits-but",
                            of_area(open), {arg::fraction(blank)}));
      else if (open > 0)
        text.push_back(
            said(out > 0 ? "page.no-more-than-allowed" : "page.nothing-provably-outside-limits", of_area(open)));
      else
        text.push_back(Message(
            out > 0 ? "page.no-more-than-allowed-provably-outside" : "page.nothing-provably-outside-limits-but-area",
            {arg::fraction(blank)}));
      return text;
  }
  if (blank > 0)
    text.push_back(
        said(v.covered ? "cover.besides-area-not-measured-places" : "cover.besides-area-not-measured", of_area(blank)));
  const Text more = beside_the_word(v);
  text.insert(text.end(), more.begin(), more.end());
  return text;
}

}  // namespace

MeanBudget mean_budget(const Sheet& sheet, const GapMap& gap, const std::vector<int>& nodes) {
  const SumErrors e = sum_errors(sheet, gap, shared_fits(sheet, gap), mean_weights(sheet, gap, nodes));
  return {e.lower, e.upper, e.instrument, e.registration, e.temperature, gap.coverage * e.u()};
}

Message verdict_word(Conformity c, bool provisional) {
  switch (c) {
    case Conformity::conforming:
      return Message(provisional ? "verdict.provisionally-conforming" : "verdict.conforming");
    case Conformity::undecided:
      return Message(provisional ? "verdict.provisionally-undecided" : "verdict.undecided");
    case Conformity::nonconforming:
      return Message(provisional ? "verdict.provisionally-nonconforming" : "verdict.nonconforming");
    case Conformity::not_measured:
      return Message(provisional ? "verdict.provisionally-not-measured" : "verdict.not-measured");
    case Conformity::not_judged:
      break;
  }
  return Message("verdict.not-judged");
}

Verdict judge(const Sheet& sheet, const GapMap& gap, const ToleranceOptions& o) {
  const std::size_t n = sheet.size();
  if (gap.nodes.size() != n)
    throw Error(Fault::input, "conformity: the gap map has " + std::to_string(gap.nodes.size()) +
                                  " nodes and the sheet " + std::to_string(n) + "; measure the gap on this sheet");
  Verdict v;
  v.limits = tolerance_limits(sheet, o);
  const auto& limits = v.limits;
  v.nominal.resize(n), v.deviation.assign(n, kNone);
  for (std::size_t i = 0; i < n; ++i) {
    const NodeGap& g = gap.nodes[i];
    v.nominal[i] = limits[i].nominal;
    if (g.measured) v.deviation[i] = g.gap - limits[i].nominal;
  }
  const Places places = places_on(sheet, gap, limits, disc_across(o));
  const Decisions decided = decide_places(places, sheet, gap, limits);
  v.node = decided.node, v.rule = places.rule;
  v.consumer_risk = decided.consumer_risk, v.producer_risk = decided.producer_risk;
  v.at_low = decided.at_low, v.at_high = decided.at_high;
  std::vector<int> all;
  for (std::size_t i = 0; i < n; ++i)
    if (!is_masked(sheet, i)) all.push_back(static_cast<int>(i));
  const Part whole = judge_part(sheet, gap, decided, all, o, sheet.lost);
  v.unseen = whole.unseen, v.covered = whole.covered;
  v.fraction = whole.fraction, v.overall = whole.overall, v.would_change = whole.would_change;
  if (v.overall == Conformity::undecided) {
    const Text ways = told_of(better_of(places, sheet, gap, limits, decided));
    v.would_change.insert(v.would_change.end(), ways.begin(), ways.end());
  }
  v.mean_budget = mean_budget(sheet, gap, all);
  v.zones = judge_zones(sheet, gap, decided, v, o);

  statistics(v, sheet);
  const RigidFit fit = solve_rigid(sheet, gap, v.deviation);
  v.offset = fit.part.offset, v.tilt = fit.part.tilt, v.pivot = fit.part.pivot, v.axis = fit.part.axis;
  v.offset_U = fit.part.offset_U, v.tilt_U = fit.part.tilt_U;
  v.rigid_rms = fit.part.rms, v.rigid_rms_U = fit.part.rms_U;
  v.rigid_significant = v.rigid_rms > v.rigid_rms_U;
  v.remainder.assign(n, kNone);
  double square = 0, measured = 0;
  for (std::size_t i = 0; i < n; ++i)
    if (std::isfinite(v.deviation[i])) {
      v.remainder[i] = v.deviation[i] - fit.part.effect[i];
      square += sheet.area[i] * v.remainder[i] * v.remainder[i];
      measured += sheet.area[i];
    }
  if (measured > 0) v.remainder_rms = std::sqrt(square / measured);
  v.regions = find_regions(sheet, gap, limits, fit, v.rigid_significant ? v.remainder : v.deviation,
                           v.rigid_significant, o.min_region_area);
  v.small_outside = small_outside_of(decided.small_outside, sheet, gap, limits);
  v.headline = headline(v, sheet, gap, limits, whole.area);
  return v;
}

Verdict not_judged(const Sheet& sheet, const GapMap& gap, const ToleranceOptions& o, const Text& why) {
  Verdict v;
  v.limits = tolerance_limits(sheet, o);
  v.overall = Conformity::not_judged, v.headline = {verdict_word(v.overall, false)};
  v.headline.insert(v.headline.end(), why.begin(), why.end());
  v.node.assign(sheet.size(), Conformity::not_judged);
  for (double* x : {&v.mean, &v.sigma, &v.p05, &v.p50, &v.p95, &v.minimum, &v.maximum, &v.remainder_rms, &v.offset})
    *x = kNone;
  v.nominal.resize(sheet.size()), v.deviation.assign(sheet.size(), kNone), v.remainder = v.deviation;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    v.nominal[i] = v.limits[i].nominal;
    if (gap.nodes[i].measured) v.deviation[i] = gap.nodes[i].gap - v.nominal[i];
  }
  return v;
}

}  // namespace gapfront::conformity
