// Build-up and relief.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "core/neighbours.hpp"
#include "core/outline.hpp"
#include "core/statistics.hpp"
#include "correct/bench_half.hpp"
#include "correct/candidates.hpp"
#include "correct/effort.hpp"
#include "correct/footprint.hpp"
#include "correct/nominal_face.hpp"
#include "correct/smooth.hpp"
#include "correct/steps.hpp"

namespace gapfront::correct {
namespace {

struct Face {
  std::string name;
  Message why;
};

// Of a deviation that much must have come since the earlier inspection for its face to be told by that.
constexpr double kSince = 0.5;

/// What has changed over some nodes since an earlier inspection, mm. What the seat did to the gap, and the frame to
/// each face, is rigid and taken out, as it is from the region.
struct Since {
  double lower = 0, upper = 0;
};

/// Mean over the region of what no rigid motion explains, and that motion's effect, root mean square; NaN: not measured
/// at both dates.
std::pair<double, double> without_rigid(const CorrectInput& in, const DeviationRegion& r,
                                        const std::vector<double>& moves) {
  const RigidPart rigid = conformity::fit_rigid_part(in.sheet, in.gap, moves);
  double sum = 0, area = 0;
  for (const int node : r.nodes)
    if (const auto i = static_cast<std::size_t>(node); std::isfinite(moves[i]))
      sum += in.sheet.area[i] * (moves[i] - rigid.effect[i]), area += in.sheet.area[i];
  return {area > 0 ? sum / area : std::numeric_limits<double>::quiet_NaN(), rigid.rms};
}

/// Nothing where the deviation was there before, or what changed is not beyond U, or is less than what the seat moved:
/// its motion sideways, which a bend shows as a change, is not in the rigid part.
std::optional<Since> moved_since(const CorrectInput& in, const DeviationRegion& r) {
  if (!in.moves) return std::nullopt;
  std::vector<double> both = in.moves->lower;
  for (std::size_t i = 0; i < both.size(); ++i) both[i] += in.moves->upper[i];
  const auto [change, seat] = without_rigid(in, r, both);
  const double lower = without_rigid(in, r, in.moves->lower).first;
  const Since out{lower, change - lower};
  const double enough = std::max({kSince * std::abs(r.mean), r.mean_U, seat});
  const bool since = change * r.mean > 0 && std::abs(change) >= enough;
  return since ? std::optional(out) : std::nullopt;
}

/// Which half: the one that is off by the nominal surfaces; else the one preferred; else the one that has changed; else
/// the one that bulges into the cavity there, which a straight-edge and a board can reach.
Face choose_face(const CorrectInput& in, const CorrectOptions& o, const DeviationRegion& r,
                 const std::vector<std::vector<int>>& around, const std::optional<Since>& since) {
  if (const auto off = face_errors(in, r.nodes)) {
    const Message both("work.nominal-surfaces-lower-face", {arg::length(off->lower), arg::length(off->upper)});
    // The half whose error is of the region's kind: material missing where the gap is wide.
    const double sign = r.high ? -1 : 1;
    return {sign * off->lower >= sign * off->upper ? "lower" : "upper", both};
  }
  if (!o.face.empty()) return {o.face, Message("work.job-prefers")};
  if (since && std::abs(std::abs(since->upper) - std::abs(since->lower)) > r.mean_U) {
    const bool upper = std::abs(since->upper) > std::abs(since->lower);
    return {upper ? "upper" : "lower", Message("corrections.worn-there-since", {arg::name(in.moves->since)})};
  }
  // Of the middle node: a wall whose end runs into a rounding does not bulge for that.
  std::vector<double> bends;
  for (const int i : r.nodes) {
    double bulge = 0, length = 0;
    for (const int j : around[i]) {
      const Vec3 d = in.sheet.mesh.points[j] - in.sheet.mesh.points[i];
      bulge += (in.sheet.normals[j] - in.sheet.normals[i]).dot(d);
      length += d.squaredNorm();
    }
    bends.push_back(length > 0 ? bulge / length : 0);
  }
  // A radius of 2 m and more counts as flat: nothing there makes one half easier to reach than the other.
  const double curvature = bends.empty() ? 0 : median(bends);
  if (curvature > 5e-4) return {"lower", Message("corrections.convex-one-there-so")};
  if (curvature < -5e-4) return {"upper", Message("corrections.convex-one-there-so")};
  return {"lower", Message("corrections.both-flat-there-lower")};
}

/// 1 inside, 0 beyond the blend, without a kink at either end.
double feather(double inside, double blend) {
  const double s = blend > 0 ? std::clamp(1 + inside / blend, 0.0, 1.0) : inside > 0;
  return s * s * (3 - 2 * s);
}

}  // namespace

std::vector<DeviationRegion> merged_regions(const Sheet& sheet, const std::vector<DeviationRegion>& regions,
                                            double within) {
  std::vector<DeviationRegion> out;
  const auto around = neighbours(sheet.mesh);
  for (const auto& r : regions) {
    std::vector<char> mine(sheet.size(), 0);
    for (const int i : r.nodes) mine[i] = 1;
    const auto distance = distance_from(sheet, around, mine, 2 * within);
    DeviationRegion sum = r;
    for (auto it = out.begin(); it != out.end();) {
      const bool near = it->high == r.high && it->on_remainder == r.on_remainder &&
                        std::any_of(it->nodes.begin(), it->nodes.end(), [&](int i) { return distance[i] < within; });
      if (!near) {
        ++it;
        continue;
      }
      const double v = std::abs(it->volume), w = std::abs(sum.volume);
      if (v + w > 0) sum.centre = (v * it->centre + w * sum.centre) / (v + w);
      sum.name = it->name + " + " + sum.name;
      sum.nodes.insert(sum.nodes.end(), it->nodes.begin(), it->nodes.end());
      sum.area += it->area, sum.volume += it->volume, sum.out_area += it->out_area;
      if (std::abs(it->peak) > std::abs(sum.peak)) sum.peak = it->peak;
      sum.mean = sum.volume / sum.area;
      it = out.erase(it);
    }
    if (sum.name != r.name) {
      std::sort(sum.nodes.begin(), sum.nodes.end());
      std::vector<char> marked(sheet.size(), 0);
      for (const int i : sum.nodes) marked[i] = 1;
      sum.outline = outline_of(sheet.mesh, one_piece(sheet, around, marked, within));
    }
    out.push_back(std::move(sum));
  }
  return out;
}

Correction surface_candidate(const CorrectInput& in, const CorrectOptions& o, const DeviationRegion& r) {
  const auto around = neighbours(in.sheet.mesh);
  Correction c;
  c.kind = r.high ? Kind::build_up : Kind::relief;
  c.region = r.name, c.blend = o.blend;
  const std::optional<Since> since = moved_since(in, r);
  const Face face = choose_face(in, o, r, around, since);
  c.face = face.name, c.why = face.why;
  const BenchHalf half = half_of(in, c.face == "upper");
  std::vector<char> marked(in.sheet.size(), 0);
  for (const int i : r.nodes) marked[i] = 1;
  c.inside = one_piece(in.sheet, around, marked, o.min_size);
  // Never on a place that the scan did not see: the work ends before it.
  for (std::size_t i = 0; i < in.sheet.covered.size(); ++i)
    if (!in.sheet.covered[i]) c.inside[i] = std::min(c.inside[i], -std::max(o.blend, 1.0));
  c.outline = smooth(outline_of(half.face, c.inside));
  c.centre = r.centre;
  if (const int middle = middle_node(half, c); middle >= 0) c.centre = half.face.points[middle];

  // Worked to the mean of each node and its neighbours: nobody fills or grinds a scan's noise. Never the other way.
  const auto& field = r.on_remainder ? in.verdict.remainder : in.verdict.deviation;
  const double sign = r.high ? 1 : -1;
  c.gap_change.assign(in.sheet.size(), 0);
  double volume_inside = 0;
  for (std::size_t i = 0; i < field.size(); ++i) {
    const double fraction = feather(c.inside[i], o.blend);
    if (fraction == 0) continue;
    double sum = 0;
    int count = 0;
    for (const int j : around[i])
      if (std::isfinite(field[j])) sum += field[j], ++count;
    if (std::isfinite(field[i])) sum += field[i], ++count;
    if (count == 0) continue;
    const double mean = sum / count, here = std::isfinite(field[i]) ? 0.5 * (field[i] + mean) : mean;
    const double depth = fraction * std::max(0.0, sign * here);
    c.gap_change[i] = -sign * depth;
    c.peak = std::max(c.peak, depth);
    c.volume += in.sheet.area[i] * depth;
    if (c.inside[i] > 0) c.area += in.sheet.area[i], volume_inside += in.sheet.area[i] * depth;
  }
  if (c.area > 0) c.mean = volume_inside / c.area;
  if (r.high) c.mass = c.volume * o.filler_density * o.waste;
  c.effort = effort_hours(o, c.kind, 0, c.area);
  c.peak = in_steps(c.peak, o.shop_step);
  const bool upper = c.face == "upper";
  Message what(r.high ? (upper ? "work.build-up-upper-face" : "work.build-up-lower-face")
                      : (upper ? "work.relieve-upper-face-around" : "work.relieve-lower-face-around"),
               {arg::place(c.centre), arg::depth(c.peak), arg::area(c.area, 0)});
  if (r.high) what.arguments.push_back(arg::mass(c.mass));
  what.arguments.push_back(arg::length(o.blend, 0));
  Messages orders{what};
  if (r.on_remainder) orders.push_back(Message("corrections.measured-after-rigid-move"));
  orders.push_back(
      Message(upper ? "corrections.upper-face-because" : "corrections.lower-face-because", {arg::message(c.why)}));
  c.instruction = {full_sentence(orders)};
  if (!r.high && since)
    c.instruction.push_back(full_sentence({Message("corrections.clean-before-relief", {arg::name(in.moves->since)})}));
  return c;
}

}  // namespace gapfront::correct
