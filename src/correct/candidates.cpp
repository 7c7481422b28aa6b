// Shims, and ports that move.
#include "correct/candidates.hpp"

#include <cmath>

#include "correct/effort.hpp"
#include "correct/words.hpp"

namespace gapfront {
namespace {

// A thin feeler slips in at 0.02 mm: less clearance, or sideways play, is none.
constexpr double kFeeler = 0.02;

std::string pieces_text(const ShimStack& stack, UnitSystem u) {
  if (stack.relief > 0) return "no shim, " + length(stack.relief, 2, u) + " off the flange";
  if (stack.pieces.empty()) return "no shim";
  std::string out;
  for (const double p : stack.pieces) out += (out.empty() ? "" : " + ") + spoken_length(p, 2, u);
  return out + " " + length_unit(u);
}

std::string proof_text(const ShimChoice& c, UnitSystem u) {
  const std::string front =
      c.tied.empty() ? ""
                     : "; of the " + std::to_string(c.tied.size()) +
                           " that leave as little out and come nearest to nominal, the front is disturbed least, by " +
                           "re-computation";
  if (c.proven)
    return "no other combination of the stock leaves less area out of tolerance, by branch and bound over all of them" +
           front;
  return "the best found; by the bound reached, no combination leaves less than " + words(100 * c.bound.out_area, 1) +
         " % of the area out (this one " + words(100 * c.after.out_area, 1) + " %), or less than " +
         length(c.bound.rms, 3, u) + " RMS (this one " + length(c.after.rms, 3, u) + ")" + front;
}

/// What the front loses with the half seated so, once the local defects are cured: see loss().
double front_of(const CorrectInput& in, const Seating& seating, const std::vector<double>& deviation,
                const Vec3& plane) {
  std::vector<double> gap = in.verdict.nominal;
  double area = 0;
  for (std::size_t i = 0; i < gap.size(); ++i) {
    const NodeGap& n = in.gap.nodes[i];
    if (n.measured && std::isfinite(deviation[i])) gap[i] += deviation[i];
    gap[i] += seating.row(in.sheet.mesh.points[i], n.measured ? n.direction : in.sheet.normals[i]).dot(plane);
    area += in.sheet.area[i];
  }
  const Filling front = fill(in.sheet, filled(in, gap, in.laminate, in.breathing), in.flow);
  return compare_fillings(in.sheet, in.nominal, front).rms_s / in.nominal.fill_time + dry_area(front) / area;
}

/// The last point must be farther from the vent than the vent is wide and the mesh is coarse.
double far_from_vent(const CorrectInput& in, const Vent& vent) {
  double edge = 0;
  for (const double a : in.sheet.area) edge += a;
  // A node's area is √3/2 of the square of its edge on a mesh of even triangles.
  edge = in.sheet.size() ? std::sqrt(edge / static_cast<double>(in.sheet.size()) / 0.866) : 0;
  return vent.radius + 2 * edge;
}

bool touches(const Sheet& sheet, const std::vector<Vec3>& path, double radius) {
  return std::any_of(sheet.mesh.points.begin(), sheet.mesh.points.end(),
                     [&](const Vec3& p) { return distance_to_path(p, path) <= radius; });
}

Vec3 onto_sheet(const Sheet& sheet, const Vec3& p) {
  return *std::min_element(sheet.mesh.points.begin(), sheet.mesh.points.end(),
                           [&](const Vec3& a, const Vec3& b) { return (a - p).squaredNorm() < (b - p).squaredNorm(); });
}

Vec3 middle(const std::vector<Vec3>& path) {
  Vec3 sum = Vec3::Zero();
  for (const Vec3& p : path) sum += p;
  return sum / static_cast<double>(path.size());
}

}  // namespace

std::optional<Correction> shim_candidate(const CorrectInput& in, const CorrectOptions& given,
                                         std::vector<std::string>& warnings) {
  if (given.stock.empty()) {
    warnings.push_back("Shims were not considered: the job gives no stock of shims.");
    return std::nullopt;
  }
  if (!in.verdict.rigid_significant) return std::nullopt;
  CorrectOptions o = given;
  if (o.stations.empty()) {
    o.stations = propose_stations(in.sheet, in.gap, o);
    warnings.push_back(o.stations.empty()
                           ? "Shims were not considered: the job gives no stations on the flange, and proposes none."
                           : "The job gives no stations for shims: " + std::to_string(o.stations.size()) +
                                 " are proposed along the rim. Check that the flange carries there.");
  }
  RigidPart rigid;
  rigid.axis = in.verdict.axis, rigid.pivot = in.verdict.pivot;
  rigid.offset = in.verdict.offset, rigid.tilt = in.verdict.tilt;
  const auto deviation = without_regions(in.verdict);
  const Seating seating = seat(in.sheet, in.gap, o.stations);
  const auto choice = choose_shims(in.sheet, in.gap, tolerance_limits(in.sheet, in.tolerance), deviation, rigid, o,
                                   [&](const Vec3& plane) { return front_of(in, seating, deviation, plane); });
  if (!choice) {
    if (!o.stations.empty())
      warnings.push_back("Shims were not considered: the stations do not enclose the middle of the sheet.");
    return std::nullopt;
  }
  if (choice->after.changed == 0) return std::nullopt;
  const UnitSystem u = in.tolerance.units;
  Correction c;
  c.kind = Kind::shim;
  c.face = "flange";
  c.why = proof_text(*choice, u);
  c.gap_change = shim_effect(in.sheet, in.gap, o.stations, choice->change);
  int changed = 0, relieved = 0;
  for (std::size_t k = 0; k < o.stations.size(); ++k) {
    const Station& s = o.stations[k];
    const double change = choice->change[k];
    const ShimStack& stack = choice->stacks[k];
    c.shims.push_back({s.name, change, stack.pieces, choice->clearance[k], s.at, stack.relief});
    c.centre += s.at / static_cast<double>(o.stations.size());
    if (change == 0) continue;
    c.instruction +=
        (changed++ ? "; station " : "Station ") + s.name +
        (s.proposed ? " (proposed at " + spoken_place(s.at, u) + ")" : "") +
        (stack.relief > 0 ? ": relieve the flange by " + length(stack.relief, 2, u) + ", and take out any shim"
                          : (change < 0 ? ": take out " : ": put in ") + length(std::abs(change), 2, u) + ", from " +
                                spoken_length(s.present, 2, u) + " to " + length(s.present + change, 2, u) + " (" +
                                pieces_text(stack, u) + ")");
    relieved += stack.relief > 0;
    c.mean += std::abs(change), c.peak = std::max(c.peak, std::abs(change));
  }
  c.mean /= std::max(1, changed);
  for (std::size_t k = 0; k < o.stations.size(); ++k)
    if (choice->clearance[k] > kFeeler)
      c.instruction +=
          "; station " + o.stations[k].name + " will then stand clear by " + length(choice->clearance[k], 2, u);
  for (const Vec3& p : in.sheet.mesh.points) c.in_plane = std::max(c.in_plane, seating.sideways(p, choice->plane));
  if (c.in_plane > kFeeler)
    c.instruction += "; the upper half swings sideways by up to " + length(c.in_plane, 2, u) +
                     ", so check that dowels and guides still enter freely";
  c.instruction += ".";
  c.effort = effort_hours(o.effort, c.kind, changed, 0);
  // Taking the flange down is bench work on top; its fixed share comes once.
  if (relieved) c.effort += effort_hours(o.effort, Kind::relief, relieved, 0);
  return c;
}

std::vector<Correction> port_candidates(const CorrectInput& in, const CorrectOptions& o) {
  std::vector<Correction> out;
  const int last = in.measured.last_node;
  if (last < 0 || in.flow.vents.empty()) return out;
  const Vec3 at = in.sheet.mesh.points[last];
  const auto nearest = std::min_element(in.flow.vents.begin(), in.flow.vents.end(), [&](const Vent& a, const Vent& b) {
    return distance_to_path(at, a.path) < distance_to_path(at, b.path);
  });
  const double distance = distance_to_path(at, nearest->path);
  if (distance <= far_from_vent(in, *nearest)) return out;
  const UnitSystem u = in.tolerance.units;
  const std::string seen = "The last point to fill, " + spoken_place(at, u) + ", lies " + length(distance, 0, u) +
                           " from the vent \"" + nearest->name + "\". ";
  const auto add = [&](Kind kind, const std::string& port, std::vector<Vec3> path, const std::string& what) {
    Correction c;
    c.kind = kind, c.face = "port", c.port = port, c.port_to = std::move(path), c.redesign = true;
    c.centre = middle(c.port_to);
    c.effort = effort_hours(o.effort, kind, 0, 0);
    c.instruction = seen + what;
    out.push_back(std::move(c));
  };
  add(Kind::vent_move, nearest->name, {at}, "Move the vent there.");
  for (const auto& inlet : in.flow.inlets) {
    if (inlet.perimeter || inlet.path.empty()) continue;
    // The fronts from both sides meet where they arrive at once: with the inlet nearer to the last point by half of
    // what it is off, they meet about that much nearer to the vent.
    const Vec3 move = 0.5 * (at - middle(nearest->path));
    std::vector<Vec3> path;
    for (const Vec3& p : inlet.path) path.push_back(onto_sheet(in.sheet, p + move));
    if (!touches(in.sheet, path, inlet.radius) || (path.front() - inlet.path.front()).norm() < inlet.radius) continue;
    const std::string where = spoken_place(path.front(), u);
    add(Kind::inlet_move, inlet.name, path,
        inlet.path.size() > 1 ? "Move the inlet \"" + inlet.name + "\" so that it begins at " + where + "."
                              : "Move the inlet \"" + inlet.name + "\" to " + where + ".");
  }
  return out;
}

}  // namespace gapfront
