// Shims, and ports that move.
#include "correct/candidates.hpp"

#include <cmath>

#include "core/places.hpp"
#include "core/sheet_parts.hpp"
#include "correct/effort.hpp"
#include "correct/free_name.hpp"
#include "correct/port_places.hpp"

namespace gapfront::correct {
namespace {

Message pieces_of(const ShimStack& stack) {
  if (stack.pieces.empty()) return Message("corrections.no-shim");
  Messages out;
  for (const double p : stack.pieces) out.push_back(Message("list.plain", {arg::length(p)}));
  return Message("join.sum", {out});
}

Message proof_of(const ShimChoice& c) {
  Messages said;
  if (c.proven) {
    said.push_back(Message("order.no-other-combination"));
  } else {
    said.push_back(Message("order.the-best-found"));
    said.push_back(Message("order.bound-reached-no-combination",
                           {arg::fraction(c.bound.out_area, 1), arg::fraction(c.after.out_area, 1),
                            arg::length(c.bound.rms, 3), arg::length(c.after.rms, 3)}));
  }
  if (!c.tied.empty()) said.push_back(Message("order.leave-little-out-come", {static_cast<long>(c.tied.size())}));
  return in_one_sentence(said);
}

/// What to do at a station whose stack changes; the first begins the sentence.
Message station_order(const Station& s, double change, const ShimStack& stack, bool first) {
  const Argument name = s.proposed ? arg::message(Message("order.proposed", {arg::name(s.name), arg::place(s.at)}))
                                   : Argument(arg::name(s.name));
  if (stack.relief > 0)
    return Message(first ? "order.station-relieve-flange-take" : "order.station-relieve-flange-take-out",
                   {name, arg::length(stack.relief)});
  const char* id = change < 0 ? (first ? "corrections.station-take-out-from" : "corrections.station-take-out-from-2")
                              : (first ? "corrections.station-put-from" : "corrections.station-put-from-2");
  return Message(id, {name, arg::length(std::abs(change)), arg::length(s.present), arg::length(s.present + change),
                      arg::message(pieces_of(stack))});
}

/// What the front loses with the half seated so, once the local defects are cured: see loss().
double front_of(const CorrectInput& in, const Seating& seating, const std::vector<double>& deviation,
                const Vec3& plane) {
  std::vector<double> gap = in.verdict.nominal;
  for (std::size_t i = 0; i < gap.size(); ++i) {
    const NodeGap& n = in.gap.nodes[i];
    if (!n.measured)
      gap[i] = in.gap.flow_gap(i, gap[i]);
    else if (std::isfinite(deviation[i]))
      gap[i] += deviation[i];
    gap[i] += seating.row(in.sheet.mesh.points[i], n.measured ? n.direction : in.sheet.normals[i]).dot(plane);
  }
  const Filling front = flow::fill(in.sheet, filled(in, gap, in.laminate, in.breathing), in.flow);
  return flow::compare_fillings(in.sheet, in.nominal, front).rms_s / in.nominal.fill_time +
         flow::dry_area(front) / sheet_area(in.sheet);
}

/// The last point must be farther from the vent than the vent is wide and the mesh is coarse.
double far_from_vent(const CorrectInput& in, const Vent& vent) {
  // A node's area is √3/2 of the square of its edge on a mesh of even triangles.
  const double of_node = in.sheet.size() ? sheet_area(in.sheet) / static_cast<double>(in.sheet.size()) : 0;
  return vent.radius + 2 * std::sqrt(of_node / 0.866);
}

bool touches(const Sheet& sheet, const std::vector<Vec3>& path, double radius) {
  return std::any_of(sheet.mesh.points.begin(), sheet.mesh.points.end(),
                     [&](const Vec3& p) { return distance_to_path(p, path) <= radius; });
}

/// Whether the upper half would have to come down at a station where nothing lies that could be taken out.
bool nothing_to_take(const RigidPart& rigid, const CorrectOptions& o) {
  return std::any_of(o.stations.begin(), o.stations.end(), [&](const Station& s) {
    return s.present == 0 && rigid.offset + rigid.tilt.cross(s.at - rigid.pivot).dot(rigid.axis) > kFeeler;
  });
}

}  // namespace

std::optional<Correction> shim_candidate(const CorrectInput& in, const CorrectOptions& given, Messages& warnings) {
  if (given.stock.empty()) {
    warnings.push_back(Message("order.shims-were-not-considered"));
    return std::nullopt;
  }
  if (!in.verdict.rigid_significant) return std::nullopt;
  CorrectOptions o = given;
  if (o.stations.empty()) {
    o.stations = propose_stations(in.sheet, in.gap, o);
    if (o.stations.empty()) warnings.push_back(Message("order.shims-were-not-considered-job"));
  }
  RigidPart rigid;
  rigid.axis = in.verdict.axis, rigid.pivot = in.verdict.pivot;
  rigid.offset = in.verdict.offset, rigid.tilt = in.verdict.tilt;
  const auto deviation = without_regions(in.verdict);
  const Seating seating = seat(in.sheet, in.gap, o.stations);
  const auto choice = choose_shims(in.sheet, in.gap, in.verdict.limits, deviation, rigid, o,
                                   [&](const Vec3& plane) { return front_of(in, seating, deviation, plane); });
  if (!choice) {
    if (!o.stations.empty()) warnings.push_back(Message("corrections.shims-were-not-considered"));
    return std::nullopt;
  }
  if (choice->after.changed == 0) {
    if (nothing_to_take(rigid, o)) warnings.push_back(Message("corrections.nothing-to-take-out"));
    return std::nullopt;
  }
  if (given.stations.empty())
    warnings.push_back(in_sequence({Message("order.job-gives-no-stations", {static_cast<long>(o.stations.size())}),
                                    Message("order.check-flange-carries-there")}));
  Correction c;
  c.kind = Kind::shim;
  c.face = "flange";
  c.why = proof_of(*choice);
  c.gap_change = shim_effect(in.sheet, in.gap, o.stations, choice->change);
  int changed = 0, relieved = 0;
  Messages orders;
  for (std::size_t k = 0; k < o.stations.size(); ++k) {
    const Station& s = o.stations[k];
    const double change = choice->change[k];
    const ShimStack& stack = choice->stacks[k];
    c.shims.push_back({s.name, change, stack.pieces, choice->clearance[k], s.at, stack.relief});
    c.centre += s.at / static_cast<double>(o.stations.size());
    if (change == 0) continue;
    orders.push_back(station_order(s, change, stack, changed++ == 0));
    relieved += stack.relief > 0;
    c.mean += std::abs(change), c.peak = std::max(c.peak, std::abs(change));
  }
  c.mean /= std::max(1, changed);
  for (std::size_t k = 0; k < o.stations.size(); ++k)
    if (choice->clearance[k] > kFeeler)
      orders.push_back(Message("corrections.station-will-then-stand",
                               {arg::name(o.stations[k].name), arg::length(choice->clearance[k])}));
  for (const Vec3& p : in.sheet.mesh.points) c.in_plane = std::max(c.in_plane, seating.sideways(p, choice->plane));
  if (c.in_plane > kFeeler) orders.push_back(Message("order.upper-half-swings-sideways", {arg::length(c.in_plane)}));
  c.instruction = {full_sentence(orders)};
  c.effort = effort_hours(o, c.kind, changed, 0);
  // Taking the flange down is bench work on top; its fixed share comes once.
  if (relieved) c.effort += effort_hours(o, Kind::relief, relieved, 0);
  return c;
}

std::vector<Correction> port_candidates(const CorrectInput& in, const CorrectOptions& o, const FlowOptions& flow,
                                        const Filling& filling) {
  std::vector<Correction> out;
  const int last = filling.last_node;
  if (last < 0 || flow.vents.empty()) return out;
  const Vec3 at = in.sheet.mesh.points[last];
  const auto nearest = std::min_element(flow.vents.begin(), flow.vents.end(), [&](const Vent& a, const Vent& b) {
    return distance_to_path(at, a.path) < distance_to_path(at, b.path);
  });
  const double distance = distance_to_path(at, nearest->path);
  if (distance <= far_from_vent(in, *nearest)) return out;
  const Message seen("work.last-point-fill-lies", {arg::place(at), arg::length(distance, 0), arg::name(nearest->name)});
  const auto add = [&](Kind kind, const std::string& port, std::vector<Vec3> path, const Message& what) {
    Correction c;
    c.kind = kind, c.face = "port", c.port = port, c.port_to = std::move(path), c.redesign = true;
    c.centre = mean_place(c.port_to);
    c.effort = effort_hours(o, kind, 0, 0);
    c.instruction = {seen, what};
    out.push_back(std::move(c));
  };
  const PortPlaces places(in.sheet);
  const Vec3 there = places.nearest(at, nearest->radius);
  add(Kind::vent_move, nearest->name, {there},
      Message("advice.move-vent", {arg::name(nearest->name), arg::place(there)}));
  for (const auto& inlet : flow.inlets) {
    if (inlet.perimeter || inlet.path.size() != 1) continue;  // a channel cut into the face stays where it is
    // The fronts from both sides meet where they arrive at once: with the inlet nearer to the last point by half of
    // what it is off, they meet about that much nearer to the vent.
    const Vec3 move = 0.5 * (at - mean_place(nearest->path));
    const Vec3 to = places.nearest(inlet.path.front() + move, inlet.radius);
    if (!touches(in.sheet, {to}, inlet.radius) || (to - inlet.path.front()).norm() < inlet.radius) continue;
    add(Kind::inlet_move, inlet.name, {to}, Message("work.move-inlet", {arg::name(inlet.name), arg::place(to)}));
    add(Kind::inlet_add, free_name(flow.inlets, "inlet "), {to},
        Message("optimiser.split-inlet", {arg::name(inlet.name), arg::place(to)}));
    out.back().port_radius = inlet.radius;
  }
  return out;
}

}  // namespace gapfront::correct
