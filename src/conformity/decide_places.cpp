// The decision at every place.
#include <algorithm>
#include <cmath>
#include <limits>

#include "conformity/places.hpp"
#include "core/distributions.hpp"
#include "core/sheet_parts.hpp"

namespace gapfront::conformity {
namespace {

// Standard uncertainties, where there is no uncertainty.
constexpr double kCertain = 1e9;
constexpr double kNoValue = std::numeric_limits<double>::quiet_NaN();

/// How far a gap is beyond its nearer limit, mm; negative: within.
double beyond(const NodeGap& g, const NodeLimits& l) { return std::max(g.gap - l.high, l.low - g.gap); }

/// Means over the disc about a node, mm.
struct DiscMean {
  double gap = 0, nominal = 0, low = 0, high = 0;
};

DiscMean mean_about(const Places& p, const GapMap& gap, const std::vector<NodeLimits>& limits, std::size_t i) {
  DiscMean m;
  for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) {
    const int j = p.node[k];
    const double w = p.weight(i, k);
    m.gap += w * gap.nodes[j].gap, m.nominal += w * limits[j].nominal;
    m.low += w * limits[j].low, m.high += w * limits[j].high;
  }
  return m;
}

/// A margin in standard uncertainties. Where there is none, rounding is no reason to be outside.
double in_uncertainties(double margin, double u) {
  constexpr double rounding = 1e-9;
  return u > 0 ? margin / u : margin >= -rounding ? kCertain : -kCertain;
}

/// The nearest to a limit so far.
struct Nearest {
  double z = std::numeric_limits<double>::infinity();
  DecidingPlace place;
  void look(double margin_z, const Vec3& at, const DiscMean& m, double limit, double U) {
    if (margin_z < z) z = margin_z, place = {true, at, m.nominal, limit, m.gap, U};
  }
  DecidingPlace judged(const DecisionRule& rule) const {
    DecidingPlace out = place;
    out.decision = z >= rule.inside    ? Conformity::conforming
                   : z < -rule.outside ? Conformity::nonconforming
                                       : Conformity::undecided;
    return out;
  }
};

/// Distance between the ends of a part, by the farthest node from the farthest one, and half a node at either end.
double length_of(const Sheet& sheet, const std::vector<int>& part) {
  int end = part.front();
  double most = 0;
  for (int sweep = 0; sweep < 2; ++sweep) {
    int farthest = end;
    most = 0;
    for (const int i : part)
      if (const double d = (sheet.mesh.points[i] - sheet.mesh.points[end]).norm(); d > most) most = d, farthest = i;
    end = farthest;
  }
  return most + std::sqrt(sheet.area[end]);
}

/// Nodes of connected parts that are as long as the disc is across, however narrow. Above and below do not connect.
std::vector<char> long_parts(const Sheet& sheet, const std::vector<char>& side, double across) {
  std::vector<char> out(sheet.size(), 0);
  for (const auto& part : connected_parts(sheet, side))
    if (length_of(sheet, part) >= across)
      for (const int i : part) out[i] = 1;
  return out;
}

/// Of the node itself, farther beyond its limit than `factor` of its uncertainty: 'w' wide, 't' tight.
std::vector<char> sides(const std::vector<double>& u, double factor, const GapMap& gap,
                        const std::vector<NodeLimits>& limits) {
  std::vector<char> out(u.size(), 0);
  for (std::size_t i = 0; i < u.size(); ++i)
    if (const NodeGap& g = gap.nodes[i]; g.measured && beyond(g, limits[i]) > factor * u[i])
      out[i] = g.gap > limits[i].high ? 'w' : 't';
  return out;
}

/// Share of the draws whose greatest error is at least z; between the draws the chance of one of them, not nothing.
double chance_beyond(const std::vector<double>& ascending, double z) {
  const auto more = ascending.end() - std::lower_bound(ascending.begin(), ascending.end(), z);
  return (double(more) + 1) / (double(ascending.size()) + 1);
}

/// What a disc proves is said of those of its nodes that are outside themselves: never of more area than the map shows
/// outside. A node in the middle of such a disc that lies inside is judged by its own gap.
void give_to_nodes(const Places& p, const GapMap& gap, const std::vector<NodeLimits>& limits,
                   const std::vector<char>& proven, Decisions& out) {
  std::vector<char> near(out.node.size(), 0);
  for (std::size_t i = 0; i < near.size(); ++i)
    if (out.node[i] == Conformity::nonconforming)
      for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) near[p.node[k]] = 1;
  for (std::size_t i = 0; i < near.size(); ++i) {
    const NodeGap& g = gap.nodes[i];
    if (!g.measured) continue;
    const double over = beyond(g, limits[i]);
    if (proven[i] || (near[i] && over > 0)) {
      out.node[i] = Conformity::nonconforming;
    } else if (out.node[i] == Conformity::nonconforming) {
      out.U[i] = gap.coverage * p.u_node[i], out.deciding_U[i] = gap.coverage * -over / p.rule.inside;
      out.node[i] = -over >= p.rule.inside * p.u_node[i] ? Conformity::conforming : Conformity::undecided;
    } else if (out.node[i] == Conformity::conforming && over > g.U) {
      out.small_outside.push_back(static_cast<int>(i));
    }
  }
}

}  // namespace

Decisions decide_places(const Places& p, const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits) {
  const std::size_t n = sheet.size();
  Decisions out;
  out.node.assign(n, Conformity::not_measured);
  out.U.assign(n, kNoValue), out.deciding_U.assign(n, kNoValue);
  // A strip that is out by its own estimate and by more than one standard uncertainty of its fits is not proven to be
  // within, though the means about it may be.
  const auto proven = long_parts(sheet, sides(p.u_node, p.rule.outside_node, gap, limits), p.rule.across);
  const auto open = long_parts(sheet, sides(p.u_fits, 1, gap, limits), p.rule.across);
  Nearest low, high;
  bool strip = false;
  for (std::size_t i = 0; i < n; ++i) {
    const NodeGap& g = gap.nodes[i];
    if (!g.measured) continue;
    const Vec3& at = sheet.mesh.points[i];
    const DiscMean m = mean_about(p, gap, limits, i);
    const double above = m.gap - m.low, below = m.high - m.gap, margin = std::min(above, below), u = p.u[i];
    low.look(in_uncertainties(above, u), at, m, m.low, gap.coverage * u);
    high.look(in_uncertainties(below, u), at, m, m.high, gap.coverage * u);
    const double z = in_uncertainties(margin, u);
    out.U[i] = gap.coverage * (open[i] ? p.u_node[i] : u);
    out.deciding_U[i] = gap.coverage * (open[i]       ? beyond(g, limits[i]) / p.rule.outside_node
                                        : margin >= 0 ? margin / p.rule.inside
                                                      : -margin / p.rule.outside);
    strip = strip || open[i];
    out.node[i] = z < -p.rule.outside              ? Conformity::nonconforming
                  : z >= p.rule.inside && !open[i] ? Conformity::conforming
                                                   : Conformity::undecided;
  }
  give_to_nodes(p, gap, limits, proven, out);
  if (!low.place.found) return out;
  out.at_low = low.judged(p.rule), out.at_high = high.judged(p.rule);
  if (p.greatest.empty()) return out;
  const double least = std::min(low.z, high.z);
  out.consumer_risk = strip ? 1 : normal_beyond(least);
  // Outside is said for either of two reasons, so the chance is twice that of the one (Bonferroni).
  out.producer_risk = std::min(1.0, 2 * chance_beyond(p.greatest, -least));
  return out;
}

std::vector<Conformity> node_classes(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                                     const DecisionRule& rule) {
  Decisions decided = decide_places(places_by(sheet, gap, limits, rule), sheet, gap, limits);
  return std::move(decided.node);
}

double disc_across(const ToleranceOptions& o) { return 2 * std::sqrt(o.min_area / M_PI); }

}  // namespace gapfront::conformity
