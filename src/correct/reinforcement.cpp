// Extra glass where the tool cannot be touched today: patches and radius packing.
#include <Eigen/Eigenvalues>
#include <cmath>

#include "core/neighbours.hpp"
#include "core/outline.hpp"
#include "core/sheet_parts.hpp"
#include "correct/candidates.hpp"
#include "correct/effort.hpp"
#include "correct/footprint.hpp"

namespace gapfront::correct {
namespace {

// A lane: four times as long as wide. Below that a patch is easier to cut than roving is to lay.
constexpr double kLane = 4;
// The outline is laid on in plan; a wall so steep that less than half of its area is seen in plan needs another way.
constexpr double kPlanFraction = 0.5;

struct Form {
  double length = 0, width = 0;
};

Form form_of(const Sheet& sheet, const DeviationRegion& r) {
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  Vec3 centre = Vec3::Zero();
  double area = 0;
  for (const int i : r.nodes) {
    centre += sheet.area[i] * sheet.mesh.points[i];
    area += sheet.area[i];
  }
  centre /= area;
  for (const int i : r.nodes) {
    const Vec3 d = sheet.mesh.points[i] - centre;
    spread += sheet.area[i] / area * d * d.transpose();
  }
  const double longest = Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(spread).eigenvalues()[2];
  // A uniform strip of length L has the variance L²/12 along it.
  const double length = std::sqrt(12 * longest);
  return {length, length > 0 ? area / length : 0};
}

double plan_area(const std::vector<Vec3>& o) {
  double a = 0;
  for (std::size_t k = 0; k + 1 < o.size(); ++k) a += 0.5 * (o[k].x() * o[k + 1].y() - o[k + 1].x() * o[k].y());
  return std::abs(a);
}

}  // namespace

std::optional<Correction> reinforcement_candidate(const CorrectInput& in, const CorrectOptions& o,
                                                  const DeviationRegion& r, Messages& warnings) {
  if (!r.high || r.outline.size() < 4 || in.laminate.plies.empty()) return std::nullopt;
  if (plan_area(r.outline) < kPlanFraction * r.area) {
    warnings.push_back(Message("corrections.no-glass-proposed-lies", {arg::name(r.name)}));
    return std::nullopt;
  }
  const Form form = form_of(in.sheet, r);
  std::vector<char> marked(in.sheet.size(), 0);
  for (const int i : r.nodes) marked[i] = 1;
  auto inside = one_piece(in.sheet, neighbours(in.sheet.mesh), marked, o.min_size);
  for (std::size_t i = 0; i < in.sheet.covered.size(); ++i)
    if (!in.sheet.covered[i]) inside[i] = std::min(inside[i], -1.0);  // never on a place that the scan did not see
  const auto outline = outline_of(in.sheet.mesh, inside);
  const bool lane = form.length > kLane * form.width && in_radius(in.sheet, r.nodes);
  std::vector<double> gap(in.sheet.size());
  for (std::size_t i = 0; i < gap.size(); ++i) gap[i] = in.gap.flow_gap(i, in.verdict.nominal[i]);
  const auto& field = r.on_remainder ? in.verdict.remainder : in.verdict.deviation;

  std::vector<Ply> tries;
  if (o.patch.count > 0 && o.patch.reinforcement.areal_weight > 0)
    tries.push_back(o.patch);
  else if (lane)
    tries.push_back(roving(in.laminate.plies.front(), std::abs(r.mean)));
  else
    for (const Ply& p : in.laminate.plies) {
      tries.push_back(p);
      tries.back().count = 1;
    }
  const LaminateMap nominal = laminate::evaluate_laminate(in.sheet, in.verdict.nominal, in.laminate);
  // How far the flow per width is from the nominal one, over the region; a ratio, so in logarithms.
  const auto misfit = [&](const LaminateMap& m) {
    double sum = 0;
    for (const int i : r.nodes)
      sum += in.sheet.area[i] *
             std::abs(std::log(std::max(1e-15, m.nodes[i].conductance / m.nodes[i].fluid_thickness) /
                               std::max(1e-15, nominal.nodes[i].conductance / nominal.nodes[i].fluid_thickness)));
    return sum;
  };
  const LaminateMap before = laminate::evaluate_laminate(in.sheet, gap, in.laminate);
  double best = misfit(before);
  std::optional<Correction> out;
  for (const Ply& ply : tries) {
    LaminateOptions with = in.laminate;
    LaminateZone zone;
    zone.name = (lane ? "packing " : "patch ") + r.name;
    zone.adds = true;
    zone.where.polygon = outline;
    zone.plies = {ply};
    with.zones.push_back(zone);
    const LaminateMap after = laminate::evaluate_laminate(in.sheet, gap, with);
    if (after.over_packed_area > before.over_packed_area) continue;  // would hold the mold open
    const double m = misfit(after);
    if (m >= best) continue;
    best = m;
    Correction c;
    c.kind = lane ? Kind::radius_packing : Kind::reinforcement_patch;
    c.face = "laminate", c.region = r.name, c.centre = r.centre, c.outline = outline, c.area = r.area,
    c.inside = inside;
    c.mean = ply.count * ply.reinforcement.loft, c.peak = c.mean;
    c.gap_change.assign(in.sheet.size(), 0);
    for (const int i : r.nodes) c.volume += in.sheet.area[i] * std::max(0.0, field[i]);
    c.mass = ply.count * ply.reinforcement.areal_weight * r.area;
    c.effort = effort_hours(o, c.kind, 0, r.area);
    c.added = {zone};
    if (lane)
      c.instruction = {
          full_sentence({Message("corrections.pack-radius-around-roving",
                                 {arg::place(r.centre), arg::length(form.length, 0), arg::length(form.width, 0),
                                  arg::volume(c.volume, 1), arg::mass(c.mass)})})};
    else
      c.instruction = {full_sentence({Message("corrections.lay-extra-ply-within",
                                              {arg::number(ply.count), arg::name(ply.reinforcement.name),
                                               arg::place(r.centre), arg::area(r.area, 0), arg::mass(c.mass)})})};
    out = c;
  }
  return out;
}

}  // namespace gapfront::correct
