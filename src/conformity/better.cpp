#include "conformity/better.hpp"

#include <algorithm>
#include <cmath>

#include "core/statistics.hpp"

namespace gapfront::conformity {
namespace {

using Way = BetterScan::Way;

// A way that decides less than a twentieth of what is undecided is not worth the walk to the mold.
constexpr double kWorthwhile = 0.05;

/// Variances of errors of as many targets again, spread alike, are half.
void more_targets(GapMap& map) {
  map.registration *= 0.5;
  for (NodeGap& g : map.nodes) g.u_registration *= std::sqrt(0.5);
}

/// Of U at a bend that the scan does not resolve, with half the spacing: it goes with the square of it (a test measures
/// it in a channel).
constexpr double kAtBends = 0.25;

/// A node with so many times the usual u of the fits is at such a bend.
constexpr double kBent = 4;

/// Fits take in as many points as now, so that each covers a quarter of the area and has the noise of now.
void denser(GapMap& map) {
  for (const auto u : {&NodeGap::u_lower, &NodeGap::u_upper}) {
    std::vector<double> all;
    for (const NodeGap& g : map.nodes)
      if (g.measured) all.push_back(g.*u);
    const double usual = median(all);
    for (NodeGap& g : map.nodes)
      if (g.*u > kBent * usual) g.*u *= kAtBends;
  }
  for (NodeGap& g : map.nodes) g.fit_area *= 0.25;
}

/// The map as it would be measured. What U holds beyond its named parts stays as it is.
GapMap changed(const GapMap& map, Way way) {
  GapMap out = map;
  const auto taken = [&](Way w) { return way == w || way == Way::all; };
  if (taken(Way::temperature))
    for (NodeGap& g : out.nodes) g.u_temperature = 0;
  if (taken(Way::instrument))
    for (NodeGap& g : out.nodes) g.u_instrument *= 0.5;
  if (taken(Way::points)) denser(out);
  if (taken(Way::targets)) more_targets(out);
  const auto named = [](const NodeGap& g) {
    return g.u_lower * g.u_lower + g.u_upper * g.u_upper + g.u_instrument * g.u_instrument +
           g.u_registration * g.u_registration + g.u_temperature * g.u_temperature;
  };
  for (std::size_t i = 0; i < out.nodes.size(); ++i) {
    const double u = map.nodes[i].U / map.coverage, less = named(map.nodes[i]) - named(out.nodes[i]);
    out.nodes[i].U = map.coverage * std::sqrt(std::max(0.0, u * u - less));
  }
  return out;
}

}  // namespace

std::vector<BetterScan> better_of(const Places& now, const Sheet& sheet, const GapMap& map, const Decisions& decided) {
  std::vector<int> open;
  double area = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (decided.node[i] == Conformity::undecided && now.u[i] > 0)
      open.push_back(static_cast<int>(i)), area += map.judged_area(sheet, i);
  std::vector<BetterScan> out;
  if (!(area > 0)) return out;
  // Said of the place that is nearest to being decided as it is: what decides it decides others.
  const int at = *std::max_element(open.begin(), open.end(), [&](int a, int b) {
    return decided.deciding_U[a] / decided.U[a] < decided.deciding_U[b] / decided.U[b];
  });
  for (const Way way : {Way::temperature, Way::instrument, Way::points, Way::targets, Way::all}) {
    Places then = now;
    uncertainties(sheet, changed(map, way), then);
    BetterScan b{way, sheet.mesh.points[at], decided.U[at], 0, 0};
    for (const int i : open) {
      const double U = decided.U[i] * then.u[i] / now.u[i];
      if (i == at) b.U_after = U;
      if (U <= decided.deciding_U[i]) b.decided += map.judged_area(sheet, std::size_t(i)) / area;
    }
    out.push_back(b);
  }
  return out;
}

Text told_of(const std::vector<BetterScan>& ways) {
  if (ways.empty()) return {};
  const auto id = [](Way way) {
    switch (way) {
      case Way::temperature:
        return "better.temperature";
      case Way::instrument:
        return "better.probe";
      case Way::points:
        return "better.points";
      case Way::targets:
        return "better.targets";
      case Way::all:
        break;
    }
    return "better.all";
  };
  Messages worthwhile;
  double most = 0;
  for (const BetterScan& b : ways) {
    // All together is said only where it does more than the best of them.
    if (b.decided < kWorthwhile || (b.way == Way::all && b.decided < most + kWorthwhile)) continue;
    worthwhile.push_back(Message(
        id(b.way), {arg::length(b.U, 3), arg::length(b.U_after, 3), arg::place(b.at, 2), arg::fraction(b.decided, 0)}));
    most = std::max(most, b.decided);
  }
  if (worthwhile.empty()) return {Message("better.none", {arg::length(ways.back().U_after, 3)})};
  return {Message("better.lead-in", {arg::message(in_one_sentence(worthwhile))})};
}

std::vector<BetterScan> better_scans(const Sheet& sheet, const GapMap& map, const ToleranceOptions& o) {
  const auto limits = tolerance_limits(sheet, o);
  const Places places = places_on(sheet, map, limits, disc_across(o));
  return better_of(places, sheet, map, decide_places(places, sheet, map, limits));
}

}  // namespace gapfront::conformity
