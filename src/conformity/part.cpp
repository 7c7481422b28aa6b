#include "conformity/part.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/statistics.hpp"

namespace gapfront::conformity {
namespace {

// A better scan is asked to decide nine tenths of what is undecided: the last tenth lies so near a limit that no
// scanner would do.
constexpr double kLeftUndecided = 0.1;
// A scan four times better than this one is about what another scanner or more passes can give; if nine tenths need
// more than that, the sentence asks for half.
constexpr double kWithinReach = 0.25;

// One place smaller than the least area decides nothing on a large mold, so it does not on a small one: as long as it
// is no more than a tenth of what is judged (own choice), beyond which nobody would call the whole measured.
constexpr double kMostBlank = 0.1;

/// What a better scan would decide; empty where nothing is open.
Text would_change(const Part& part, const Sheet& sheet, const Decisions& decided, const std::vector<int>& nodes) {
  const double area = part.area, open = part.fraction[static_cast<int>(Conformity::undecided)];
  const double blank = part.fraction[static_cast<int>(Conformity::not_measured)];
  Text out;
  if (open > 0) {
    std::vector<std::pair<double, double>> margin, now;
    for (const int i : nodes)
      if (decided.node[i] == Conformity::undecided) {
        margin.push_back({decided.deciding_U[i], sheet.area[i]});
        now.push_back({decided.U[i], sheet.area[i]});
      }
    const double present = weighted_percentile(now, 0.5);
    double needed = weighted_percentile(margin, kLeftUndecided);
    const bool half = needed < kWithinReach * present;
    if (half) needed = weighted_percentile(margin, 0.5);
    Quantity enough = arg::length(needed, 3);
    enough.round_down = true;  // what is asked for must do
    out.push_back(Message(half ? "page.undecided-over-area-scan" : "page.undecided-over-area-scan-u",
                          {arg::fraction(open), arg::area(open * area), enough, arg::length(present, 3)}));
  }
  if (blank > 0)
    out.push_back(Message(part.covered                                ? "cover.not-measured-over-area"
                          : part.overall == Conformity::nonconforming ? "cover.not-measured-scan-too"
                                                                      : "page.not-measured-over-area",
                          {arg::fraction(blank), arg::area(blank * area)}));
  if (part.overall == Conformity::nonconforming) out.push_back(Message("page.no-better-scan-makes"));
  return out;
}

}  // namespace

double unmeasured_allowed(const ToleranceOptions& o, double area) {
  const double one = area > 0 ? std::min(kMostBlank, o.min_area / area) : 0;
  return o.unmeasured_fraction > 0 ? std::max(o.unmeasured_fraction, one) : 0;
}

Part judge_part(const Sheet& sheet, const GapMap& gap, const Decisions& decided, const std::vector<int>& nodes,
                const ToleranceOptions& o, const std::vector<Sheet::Lost>& lost) {
  const double allowed = o.allowed_nonconforming_fraction;
  Part part;
  double& blank = part.fraction[static_cast<int>(Conformity::not_measured)];
  for (const int i : nodes) {
    const double judged = gap.judged_area(sheet, std::size_t(i)), unseen = gap.unseen_area(sheet, std::size_t(i));
    part.fraction[static_cast<int>(decided.node[i])] += judged, blank += unseen, part.area += judged + unseen;
  }
  part.unseen = cavity::unseen_places(sheet, gap, nodes);
  for (const auto& l : lost) {
    blank += l.area, part.area += l.area;
    part.unseen.push_back({l.centre, l.area, Missing::lower, {}});
  }
  std::stable_sort(part.unseen.begin(), part.unseen.end(),
                   [](const auto& a, const auto& b) { return a.area > b.area; });
  if (part.area > 0)
    for (double& s : part.fraction) s /= part.area;
  part.covered = blank <= unmeasured_allowed(o, part.area) && (part.unseen.empty() || part.unseen[0].area < o.min_area);
  const double bad = part.fraction[static_cast<int>(Conformity::nonconforming)];
  const double open = part.fraction[static_cast<int>(Conformity::undecided)];
  // Conforming needs proof everywhere but in the share that is allowed; what is not measured is not proof, unless it is
  // too little to matter.
  if (blank >= 1 || part.area == 0)
    part.overall = Conformity::not_measured;
  else if (bad > allowed)
    part.overall = Conformity::nonconforming;
  else if (bad + open <= allowed + 1e-12 && part.covered)  // rounding of the shares' sum
    part.overall = Conformity::conforming;
  else
    part.overall = Conformity::undecided;
  part.would_change = would_change(part, sheet, decided, nodes);
  return part;
}

std::vector<ZoneVerdict> judge_zones(const Sheet& sheet, const GapMap& gap, const Decisions& decided, const Verdict& v,
                                     const ToleranceOptions& o) {
  std::vector<ZoneVerdict> out;
  if (o.zones.empty()) return out;
  // −1, what no zone covers, comes last.
  std::vector<std::vector<int>> nodes(o.zones.size() + 1);
  for (std::size_t i = 0; i < v.limits.size(); ++i)
    if (!is_masked(sheet, i))
      nodes[v.limits[i].zone < 0 ? o.zones.size() : std::size_t(v.limits[i].zone)].push_back(int(i));
  for (std::size_t k = 0; k < nodes.size(); ++k) {
    if (nodes[k].empty()) continue;
    const Part part = judge_part(sheet, gap, decided, nodes[k], o);
    ZoneVerdict z;
    if (k < o.zones.size()) z.name = o.zones[k].name;
    z.area = part.area, z.fraction = part.fraction, z.overall = part.overall, z.would_change = part.would_change;
    z.budget = mean_budget(sheet, gap, nodes[k]);
    double sum = 0, area = 0;
    for (const int i : nodes[k])
      if (std::isfinite(v.deviation[i])) sum += sheet.area[i] * v.deviation[i], area += sheet.area[i];
    z.mean = area > 0 ? sum / area : std::nan("");
    out.push_back(std::move(z));
  }
  return out;
}

namespace {
// Beside the largest place, one of so small a part of its area is nothing to go back to the tool for.
constexpr double kSpeck = 0.1;
// A place that reaches so many times as far as a disc of its area is no spot about its middle (own choice).
constexpr double kStrip = 2.5;
}  // namespace

std::vector<UnseenPlace> to_scan(const Verdict& v) {
  std::vector<UnseenPlace> out;
  for (const UnseenPlace& p : v.unseen)
    if (!v.covered && p.area >= kSpeck * v.unseen[0].area) out.push_back(p);
  return out;
}

Text scan_first(const Verdict& v, bool work) {
  Text out;
  const auto places = to_scan(v);
  for (std::size_t i = 0; i < std::min<std::size_t>(3, places.size()); ++i) {
    const UnseenPlace& p = places[i];
    const char* id = p.missing == Missing::lower   ? "cover.scan-lower"
                     : p.missing == Missing::upper ? "cover.scan-upper"
                     : p.missing == Missing::both  ? "cover.scan-both"
                                                   : "cover.scan-closely";
    out.push_back(Message(id, {arg::place(p.centre, 2), arg::area(p.area)}));
    if (p.reach > kStrip * std::sqrt(p.area / std::numbers::pi))
      out.push_back(Message("cover.strip", {arg::length(p.reach, 0)}));
  }
  if (places.size() > 3) out.push_back(Message("cover.scan-others", {static_cast<long>(places.size() - 3)}));
  if (!out.empty()) out.push_back(Message(work ? "cover.until-then-work" : "cover.until-then"));
  return out;
}

}  // namespace gapfront::conformity
