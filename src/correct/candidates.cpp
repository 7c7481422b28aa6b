// Shims, build-up and relief.
#include "correct/candidates.hpp"

#include <cmath>
#include <cstdio>

#include "correct/effort.hpp"
#include "correct/words.hpp"
#include "geometry/neighbours.hpp"

namespace gapfront {
namespace {

std::string pieces_text(const std::vector<double>& pieces) {
  if (pieces.empty()) return "no shim";
  std::string out;
  for (const double p : pieces) out += (out.empty() ? "" : " + ") + words(p, 2);
  return out + " mm";
}

/// Which face: where the lower face bulges into the cavity it can be reached with a straight-edge and a board.
std::pair<std::string, std::string> choose_face(const CorrectInput& in, const CorrectOptions& o,
                                                const DeviationRegion& r) {
  if (!o.face.empty()) return {o.face, "as preferred in the job"};
  const auto around = neighbours(in.sheet.mesh);
  double bulge = 0, length = 0;
  for (const int i : r.nodes)
    for (const int j : around[i]) {
      const Vec3 d = in.sheet.mesh.points[j] - in.sheet.mesh.points[i];
      bulge += (in.sheet.normals[j] - in.sheet.normals[i]).dot(d);
      length += d.squaredNorm();
    }
  // A radius of 2 m and more counts as flat: nothing there makes one half easier to reach than the other.
  const double curvature = length > 0 ? bulge / length : 0;
  if (curvature > 5e-4) return {"lower", "it is the convex one there, so it is easier to reach"};
  if (curvature < -5e-4) return {"upper", "it is the convex one there, so it is easier to reach"};
  return {"lower", "both are flat there, and the lower half carries the tool frame"};
}

}  // namespace

std::optional<Correction> shim_candidate(const CorrectInput& in, const CorrectOptions& o,
                                         std::vector<std::string>& warnings) {
  if (o.stations.empty() || o.stock.empty()) {
    warnings.push_back("Shims were not considered: the job gives no stations or no stock of shims.");
    return std::nullopt;
  }
  if (!in.verdict.rigid_significant) return std::nullopt;
  RigidPart rigid;
  rigid.axis = in.verdict.axis, rigid.pivot = in.verdict.pivot;
  rigid.offset = in.verdict.offset, rigid.tilt = in.verdict.tilt;
  const auto choice =
      choose_shims(in.sheet, in.gap, tolerance_limits(in.sheet, in.tolerance), without_regions(in.verdict), rigid, o);
  if (!choice) {
    warnings.push_back("Shims were not considered: the stations do not enclose the middle of the sheet.");
    return std::nullopt;
  }
  if (choice->after.changed == 0) return std::nullopt;
  Correction c;
  c.kind = Kind::shim;
  c.face = "flange";
  c.gap_change = shim_effect(in.sheet, in.gap, o.stations, choice->change);
  int changed = 0;
  for (std::size_t k = 0; k < o.stations.size(); ++k) {
    const Station& s = o.stations[k];
    const double change = choice->change[k];
    c.shims.push_back({s.name, change, choice->stacks[k].pieces, choice->clearance[k]});
    c.centre += s.at / static_cast<double>(o.stations.size());
    if (change == 0) continue;
    c.instruction += (changed++ ? "; station " : "Station ") + s.name + (change < 0 ? ": take out " : ": put in ") +
                     words(std::abs(change), 2) + " mm, from " + words(s.present, 2) + " to " +
                     words(s.present + change, 2) + " mm (" + pieces_text(choice->stacks[k].pieces) + ")";
    c.volume += std::abs(change), c.peak = std::max(c.peak, std::abs(change));
  }
  c.mean = c.volume / std::max(1, changed);
  c.volume = 0;  // a shim has a thickness, not a volume
  for (std::size_t k = 0; k < o.stations.size(); ++k)
    if (choice->clearance[k] > 0.02)  // 0.02 mm: a thin feeler slips in
      c.instruction +=
          "; station " + o.stations[k].name + " will then stand clear by " + words(choice->clearance[k], 2) + " mm";
  c.instruction += ".";
  if (!choice->exhaustive)
    warnings.push_back("With more than six stations the stacks are a local optimum, not a proven one.");
  c.effort = effort_hours(c.kind, changed, 0);
  return c;
}

Correction surface_candidate(const CorrectInput& in, const CorrectOptions& o, const DeviationRegion& r) {
  Correction c;
  c.kind = r.high ? Kind::build_up : Kind::relief;
  c.region = r.name, c.centre = r.centre, c.outline = r.outline, c.area = r.area, c.peak = std::abs(r.peak);
  const auto [face, why] = choose_face(in, o, r);
  c.face = face;
  const auto& field = r.on_remainder ? in.verdict.remainder : in.verdict.deviation;
  // Worked to the mean of each node and its neighbours: nobody fills or grinds a scan's noise.
  std::vector<char> member(in.sheet.size(), 0);
  for (const int i : r.nodes) member[i] = 1;
  const auto around = neighbours(in.sheet.mesh);
  c.gap_change.assign(in.sheet.size(), 0);
  for (const int i : r.nodes) {
    double sum = field[i];
    int count = 1;
    for (const int j : around[i])
      if (member[j]) sum += field[j], ++count;
    c.gap_change[i] = -(0.5 * field[i] + 0.5 * sum / count);
    c.volume += in.sheet.area[i] * std::abs(c.gap_change[i]);
  }
  c.mean = c.volume / c.area;
  if (r.high) c.mass = c.volume * o.filler_density * o.waste;
  c.effort = effort_hours(c.kind, 1, c.area);
  const double across = 2 * std::sqrt(c.area / M_PI);
  c.instruction =
      std::string(r.high ? "Build up the " : "Relieve the ") + face + " face around " + spot(r.centre) + " by up to " +
      words(c.peak, 2) + " mm (mean " + words(c.mean, 2) + " mm over " + words(c.area / 100, 0) + " cm²), " +
      (r.high ? words(c.mass, 0) + " g of filler with waste, " : "") + "feathered out to its outline" +
      (across < o.min_size ? " and on to " + words(o.min_size, 0) + " mm across, the least that can be worked" : "") +
      (r.on_remainder ? "; measured after the rigid move is taken out" : "") + "; the " + face + " face because " +
      why + ".";
  if (!o.face.empty()) c.instruction.replace(c.instruction.rfind("because as"), 10, "as");
  return c;
}

}  // namespace gapfront
