#include "conformity/better.hpp"

#include <algorithm>
#include <cmath>

#include "core/statistics.hpp"
#include "gapfront/readings.hpp"

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

/// A node with so many times the usual u of the fits is at a bend that the scan does not resolve.
constexpr double kBent = 4;

/// With `share` of the area now to each point. Fits take in as many points as now, so that each covers as much less and
/// has the noise of now. Of u at a bend that the scan does not resolve as much is left: it goes with the square of the
/// spacing (a test measures it in a channel).
void denser(GapMap& map, double share) {
  for (const auto u : {&NodeGap::u_lower, &NodeGap::u_upper}) {
    std::vector<double> all;
    for (const NodeGap& g : map.nodes)
      if (g.measured) all.push_back(g.*u);
    const double usual = median(all);
    for (NodeGap& g : map.nodes)
      if (g.*u > kBent * usual) g.*u *= share;
  }
  for (NodeGap& g : map.nodes) g.fit_area *= share;
}

/// The map as it would be measured. What U holds beyond its named parts stays as it is.
GapMap changed(const GapMap& map, Way way) {
  GapMap out = map;
  const auto taken = [&](Way w) { return way == w || way == Way::all; };
  if (taken(Way::temperature))
    for (NodeGap& g : out.nodes) g.u_temperature = 0;
  if (taken(Way::instrument)) {
    for (NodeGap& g : out.nodes) g.u_instrument *= 0.5;
    out.shapes *= 0.5;
  }
  if (taken(Way::points)) denser(out, 0.25);
  // Targets in the same seats, and a certificate that says the same of every pose: only the points are new.
  if (taken(Way::pose)) denser(out, 0.5);
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

/// So many readings, and of such U (k = 2), mm: what a micrometer on clay or soft wire does with care (own choice;
/// common practice, no source). The map takes readings from two on; a third tests them.
constexpr std::size_t kReadings = 3;
constexpr double kReadingU = 0.02;

/// Places for readings: the one that is told of, then each time the farthest from those before, of the undecided ones
/// or, where these are few, of the disc about the first.
std::vector<int> readings_over(const Places& places, const Sheet& sheet, const GapMap& map,
                               const std::vector<int>& open, int first) {
  std::vector<int> from = open, out{first};
  from.insert(from.end(), places.node.begin() + std::ptrdiff_t(places.start[first]),
              places.node.begin() + std::ptrdiff_t(places.start[first + 1]));
  const auto distance = [&](int i) {
    double least = INFINITY;
    for (const int k : out) least = std::min(least, (sheet.mesh.points[i] - sheet.mesh.points[k]).norm());
    return map.nodes[i].gap > 0 ? least : -1;
  };
  while (out.size() < kReadings) {
    const int next =
        *std::max_element(from.begin(), from.end(), [&](int a, int b) { return distance(a) < distance(b); });
    if (!(distance(next) > 0)) break;
    out.push_back(next);
  }
  // The field of an update needs to know how far nodes are apart.
  return sheet.edge_p50 > 0 && map.nodes[first].gap > 0 && out.size() == kReadings ? out : std::vector<int>();
}

/// The map as readings there would update it that say what it says.
GapMap updated(const Sheet& sheet, const GapMap& map, const std::vector<int>& at) {
  GapMap out = map;
  std::vector<SpotReading> readings;
  for (const int i : at) readings.push_back({"", sheet.mesh.points[i], map.nodes[i].gap, map.coverage / 2 * kReadingU});
  cavity::update_by_readings(sheet, out, readings, cavity::Distance::straight);
  return out;
}

}  // namespace

std::vector<BetterScan> better_of(const Places& now, const Sheet& sheet, const GapMap& map,
                                  const std::vector<NodeLimits>& limits, const Decisions& decided) {
  std::vector<int> open;
  double area = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (decided.node[i] == Conformity::undecided && now.u[i] > 0)
      open.push_back(static_cast<int>(i)), area += map.judged_area(sheet, i);
  std::vector<BetterScan> out;
  if (!(area > 0)) return out;
  // Said of the place that is nearest to being decided as it is: what decides it decides others. A place of a strip
  // whose U would do already waits for the rest of the strip: it comes last.
  const auto nearness = [&](int i) {
    const double share = decided.deciding_U[i] / decided.U[i];
    return share < 1 ? share : -1;
  };
  const int at = *std::max_element(open.begin(), open.end(), [&](int a, int b) { return nearness(a) < nearness(b); });
  // Judged there was the node's own gap, where it lies in a strip, or the mean over its disc.
  const bool by_node = decided.U[at] == map.coverage * now.u_node[at];
  const std::vector<int> readings = readings_over(now, sheet, map, open, at);
  for (const Way way :
       {Way::temperature, Way::instrument, Way::readings, Way::points, Way::pose, Way::targets, Way::all}) {
    if (way == Way::readings && readings.empty()) continue;
    Places then = now;
    uncertainties(sheet, way == Way::readings ? updated(sheet, map, readings) : changed(map, way), then);
    BetterScan b{way, sheet.mesh.points[at], decided.U[at], map.coverage * (by_node ? then.u_node : then.u)[at], 0, {}};
    if (way == Way::readings)
      for (const int i : readings) b.read_at.push_back(sheet.mesh.points[i]);
    // Judged anew as a whole: a strip is decided by all of its nodes together, not by each one's U.
    const Decisions better = decide_places(then, sheet, map, limits);
    for (const int i : open)
      if (better.node[i] != Conformity::undecided) b.decided += map.judged_area(sheet, std::size_t(i)) / area;
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
      case Way::readings:
        return "better.readings";
      case Way::points:
        return "better.points";
      case Way::pose:
        return "better.pose";
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
    std::vector<Argument> said{arg::length(b.U, 3), arg::length(b.U_after, 3), arg::place(b.at, 2),
                               arg::fraction(b.decided, 0)};
    for (const Vec3& p : b.read_at) said.push_back(arg::place(p, 2));
    if (b.way == Way::readings) said.push_back(arg::length(kReadingU, 3));
    worthwhile.push_back(Message(id(b.way), std::move(said)));
    most = std::max(most, b.decided);
  }
  if (worthwhile.empty()) return {Message("better.none", {arg::length(ways.back().U_after, 3)})};
  return {Message("better.lead-in", {arg::message(in_one_sentence(worthwhile))})};
}

std::vector<BetterScan> better_scans(const Sheet& sheet, const GapMap& map, const ToleranceOptions& o) {
  const auto limits = tolerance_limits(sheet, o);
  const Places places = places_on(sheet, map, limits, disc_across(o));
  return better_of(places, sheet, map, limits, decide_places(places, sheet, map, limits));
}

}  // namespace gapfront::conformity
