#include "pipeline/by_readings.hpp"

#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "core/sheet_parts.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/pose.hpp"
#include "gapfront/readings.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/reach.hpp"
#include "pipeline/undecided.hpp"

namespace gapfront::pipeline {
namespace {

void say_left_out(const ReadingsField& field, Messages& warnings) {
  if (field.left_out.empty()) return;
  std::string names;
  for (std::size_t k = 0; k < std::min<std::size_t>(field.left_out.size(), 8); ++k)
    names += (k == 0 ? "" : ", ") + field.left_out[k];
  if (field.left_out.size() > 8) names += ", …";
  warnings.push_back(
      Message("warnings.readings-off-the-sheet", {arg::number(double(field.left_out.size())), arg::name(names)}));
}

/// Standard uncertainties beyond which one of so many readings lies in 2.5 % of tools that are within (Bonferroni).
double least_proof(std::size_t readings) {
  double z = 1.9;
  while (normal_beyond(z) > 0.025 / double(readings)) z += 0.01;
  return z;
}

bool a_reading_is_out(const Measured& m) {
  const double z = least_proof(m.job.spots.size());
  return std::any_of(m.job.spots.begin(), m.job.spots.end(), [&](const SpotReading& r) {
    const NodeLimits& l = m.verdict.limits[static_cast<std::size_t>(nearest_node(m.sheet, r.at))];
    const double u = r.U / m.gap.coverage;
    return r.thickness > l.high + z * u || r.thickness < l.low - z * u;
  });
}

/// Moves to undecided what stands at nodes farther from each reading than half the disc that decides; returns its
/// share.
double keep_beside_readings(const Measured& m, Verdict& v) {
  double moved = 0, all = 0;
  for (std::size_t i = 0; i < m.sheet.size(); ++i) {
    if (is_masked(m.sheet, i)) continue;
    all += m.sheet.area[i];
    if (v.node[i] != Conformity::conforming) continue;
    const Vec3& p = m.sheet.mesh.points[i];
    const double near = 0.5 * v.rule.across;
    if (std::any_of(m.job.spots.begin(), m.job.spots.end(),
                    [&](const SpotReading& r) { return (r.at - p).norm() <= near; }))
      continue;
    v.node[i] = Conformity::undecided, moved += m.sheet.area[i];
  }
  return all > 0 ? moved / all : 0;
}

}  // namespace

Scan upper_stand_in(const Scan& lower, const Job& job) {
  Scan out;
  out.path = job.upper.file.string(), out.format = "readings of the thickness, no scan";
  out.unit_declared = true, out.sha256 = scan::sha256_file(job.upper.file);
  // Normals of the places that 200 across make; which side is up says the tool frame, in which the lower half must be.
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const Vec3& p : lower.cloud.points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const SurfacePoints face = align::thin_surface(lower.cloud.points, (high - low).norm() / 200);
  for (std::size_t i = 0; i < face.points.size(); ++i)
    out.cloud.points.push_back(face.points[i] +
                               (face.normals[i].z() < 0 ? -1 : 1) * job.tolerance.nominal * face.normals[i]);
  return out;
}

void find_gap_by_readings(Measured& out) {
  const auto map = cavity::map_by_readings(out.sheet, conformity::nominal_gap(out.sheet, out.job.tolerance),
                                           out.job.spots, out.job.gap.coverage);
  out.gap = map.gap;
  out.warnings.push_back(
      Message("warnings.by-readings-alone",
              {arg::number(map.field.used), arg::length(map.field.length, 0), arg::length(map.field.farthest, 0)}));
  say_left_out(map.field, out.warnings);
}

void update_gap_by_readings(Measured& out) {
  if (out.job.readings_use != ReadingsUse::update) return;
  std::vector<double> before;
  for (const NodeGap& g : out.gap.nodes) before.push_back(g.gap);
  const ReadingsField field = cavity::update_by_readings(out.sheet, out.gap, out.job.spots);
  double least = 1e300, most = -1e300;
  std::vector<double> change(before.size(), 0);
  for (std::size_t i = 0; i < before.size(); ++i) {
    if (!out.gap.nodes[i].measured) continue;
    change[i] = out.gap.nodes[i].gap - before[i];
    least = std::min(least, change[i]), most = std::max(most, change[i]);
  }
  const ReadingsReach reach = reach_of_readings(out);
  count_beyond_reach(out.gap, reach, change);
  out.warnings.push_back(Message("warnings.carried-over-to-readings",
                                 {arg::number(field.used), arg::length(least, 2, true), arg::length(most, 2, true)}));
  say_left_out(field, out.warnings);
  say_reach(out, reach, "warnings.readings-carry-a-part");
}

void hold_verdict_to_readings(Measured& m) {
  Verdict& v = m.verdict;
  const bool out = a_reading_is_out(m);
  const double moved = keep_beside_readings(m, v);
  v.fraction[static_cast<int>(Conformity::conforming)] -= moved;
  v.fraction[static_cast<int>(Conformity::undecided)] += moved;
  const bool within = v.overall == Conformity::conforming;
  leave_undecided(v, !out, Message(within ? "verdict.readings-within" : "verdict.readings-leave-open"));
  v.headline.push_back(Message("verdict.by-readings-alone", {arg::number(double(m.job.spots.size()))}));
}

void hold_update_to_reach(Measured& m) {
  if (m.job.readings_use != ReadingsUse::update) return;
  const ReadingsReach reach = reach_of_readings(m);
  if (reach.beyond.empty() || reach.ample()) return;
  Verdict& v = m.verdict;
  double moved = 0;
  for (std::size_t i = 0; i < m.sheet.size(); ++i)
    if (v.node[i] == Conformity::conforming && reach.beyond[i] > 0.5 && !is_masked(m.sheet, i))
      v.node[i] = Conformity::undecided, moved += m.gap.judged_area(m.sheet, i);
  double all = 0;
  for (std::size_t i = 0; i < m.sheet.size(); ++i)
    if (!is_masked(m.sheet, i)) all += m.sheet.area[i];
  if (all > 0) moved = std::min(moved / all, v.fraction[static_cast<int>(Conformity::conforming)]);
  v.fraction[static_cast<int>(Conformity::conforming)] -= moved;
  v.fraction[static_cast<int>(Conformity::undecided)] += moved;
  leave_undecided(v, false, Message("verdict.readings-reach-a-part", {arg::fraction(reach.share, 0)}));
}

}  // namespace gapfront::pipeline
