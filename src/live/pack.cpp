// A case as bytes, and back.
#include <array>
#include <cmath>
#include <concepts>

#include "gapfront/live.hpp"
#include "live/stream.hpp"

namespace gapfront::live {
namespace {

template <class T, class S>
concept Of = std::same_as<std::remove_cv_t<T>, S>;

// "gapf", and the form of what follows: rises with each change of it.
constexpr std::uint32_t kMark = 0x66706167, kForm = 4;

/// A change of the gap where there is one.
struct Sparse {
  std::vector<int> node;  // each as its distance from the one before
  std::vector<double> mm;
};

}  // namespace

// What of each struct is packed, in this order; both ways.
void fields(auto& v, Of<Region> auto& r) { v(r.polygon, r.box, r.path, r.radius); }
void fields(auto& v, Of<PermeabilityLaw> auto& l) { v(l.kind, l.a, l.b, l.table, l.ratio, l.spread); }
void fields(auto& v, Of<CompactionLaw> auto& l) { v(l.kind, l.a, l.b, l.table); }
void fields(auto& v, Of<Reinforcement> auto& r) {
  v(r.name, r.areal_weight, r.loft, r.density, r.permeability, r.compaction, r.bending_length, r.cloth);
}
void fields(auto& v, Of<Ply> auto& p) { v(p.reinforcement, p.count, p.direction_deg); }
void fields(auto& v, Of<LaminateZone> auto& z) { v(z.name, z.where, z.adds, z.plies, z.drape, z.axis, z.follow); }
void fields(auto& v, Of<InsideRadius> auto& r) { v(r.name, r.path, r.radius, r.turn, r.packing, r.factor); }
void fields(auto& v, Of<DrapedNode> auto& n) { v(n.turn, n.threads); }
void fields(auto& v, Of<DrapedCloth> auto& c) { v(c.direction_deg, c.nodes); }
void fields(auto& v, Of<LaminateOptions> auto& o) {
  v(o.plies, o.zones, o.resin_density, o.clamping_pressure, o.weight_fraction_low, o.weight_fraction_high, o.axis,
    o.radii, o.draped);
}
void fields(auto& v, Of<RunnerSection> auto& s) { v(s.at, s.width, s.depth); }
void fields(auto& v, Of<Inlet> auto& i) {
  v(i.name, i.perimeter, i.path, i.radius, i.runner_width, i.runner_depth, i.sections);
}
void fields(auto& v, Of<Vent> auto& p) { v(p.name, p.path, p.radius, p.bleed, p.blocked_from); }
void fields(auto& v, Of<RateStep> auto& s) { v(s.from, s.rate); }
void fields(auto& v, Of<FlowOptions> auto& o) {
  v(o.viscosity, o.inlets, o.vents, o.schedule, o.pressure_limit, o.cavity_pressure, o.closing.pressure,
    o.closing.force, o.closing.perimeter_vacuum, o.closing.perimeter_width, o.closing.safety, o.gel_time, o.min_rate,
    o.rate_setting, o.pocket_rest, o.rest_fraction, o.loose_fraction, o.cells_per_step);
  v(o.supply.hose_length, o.supply.hose_bore, o.supply.gauge_at_pump, o.supply.pump_above, o.supply.max_rate,
    o.supply.vent_length, o.supply.vent_bore, o.supply.pot_volume, o.gravity.down, o.gravity.density, o.ageing.rise,
    o.ageing.start, o.ageing.gel, o.ageing.known_to, o.wet_out.through);
  v(o.closing.wet_glass, o.closing.wet_glass_spread, o.closing.unloading);
}
void fields(auto& v, Of<Correction> auto& c) {
  v(c.kind, c.name, c.added, c.port, c.port_to, c.port_radius, c.cut, c.stack);
  v(c.setting, c.gel_time, c.schedule, c.packed);
}

namespace {

std::array<std::vector<double>, 3> by_axis(const std::vector<Vec3>& points) {
  std::array<std::vector<double>, 3> out;
  for (const Vec3& p : points)
    for (int k = 0; k < 3; ++k) out[k].push_back(p[k]);
  return out;
}

/// The corners of all triangles in a row, each as its distance from that of the triangle before.
std::vector<int> steps_of(const std::vector<std::array<int, 3>>& triangles) {
  std::vector<int> out;
  std::array<int, 3> last{};
  for (const auto& t : triangles)
    for (int k = 0; k < 3; ++k) out.push_back(t[k] - last[k]), last[k] = t[k];
  return out;
}

Sparse sparse(const std::vector<double>& change) {
  Sparse out;
  int last = 0;
  for (int i = 0; i < static_cast<int>(change.size()); ++i)
    if (change[i] != 0) out.node.push_back(i - last), out.mm.push_back(change[i]), last = i;
  return out;
}

void need(bool good) {
  if (!good) throw Error(Fault::input, "trial data: its parts do not belong together; inspect again");
}

std::vector<double> dense(const Sparse& s, std::size_t nodes) {
  need(s.node.size() == s.mm.size());
  std::vector<double> out(nodes, 0);
  long long at = 0;
  for (std::size_t k = 0; k < s.node.size(); ++k) {
    at += s.node[k];
    need(at >= 0 && at < static_cast<long long>(nodes));
    out[static_cast<std::size_t>(at)] = s.mm[k];
  }
  return out;
}

Mesh mesh_of(const std::array<std::vector<double>, 3>& x, const std::vector<int>& steps) {
  need(x[0].size() == x[1].size() && x[0].size() == x[2].size() && steps.size() % 3 == 0);
  Mesh out;
  for (std::size_t i = 0; i < x[0].size(); ++i) {
    out.points.emplace_back(x[0][i], x[1][i], x[2][i]);
    need(out.points.back().allFinite());
  }
  std::array<long long, 3> last{};
  for (std::size_t k = 0; k < steps.size(); k += 3) {
    std::array<int, 3> t;
    for (std::size_t c = 0; c < 3; ++c) {
      last[c] += steps[k + c];
      need(last[c] >= 0 && last[c] < static_cast<long long>(out.points.size()));
      t[c] = static_cast<int>(last[c]);
    }
    out.triangles.push_back(t);
  }
  return out;
}

}  // namespace

std::string pack(const LiveCase& c) {
  Pack p;
  p(kMark, kForm);
  for (const auto& axis : by_axis(c.mesh.points)) p(axis);
  p.planes(steps_of(c.mesh.triangles));
  p(c.gap, c.low, c.high, c.breathing, c.laminate, c.flow, c.corrections);
  for (const Correction& correction : c.corrections) {
    const Sparse change = sparse(correction.gap_change);
    p.planes(change.node);
    p(change.mm);
  }
  return std::move(p.out);
}

LiveCase unpack(std::string_view bytes) {
  Unpack u(bytes);
  std::uint32_t mark = 0, form = 0;
  u(mark, form);
  if (mark != kMark || form != kForm)
    throw Error(Fault::input, "trial data: of another version of the program; inspect again");
  LiveCase c;
  std::array<std::vector<double>, 3> x;
  std::vector<int> steps;
  u(x[0], x[1], x[2]);
  u.planes(steps);
  c.mesh = mesh_of(x, steps);
  u(c.gap, c.low, c.high, c.breathing, c.laminate, c.flow, c.corrections);
  const std::size_t n = c.mesh.points.size();
  for (Correction& correction : c.corrections) {
    Sparse change;
    u.planes(change.node);
    u(change.mm);
    correction.gap_change = dense(change, n);
  }
  need(u.done() && c.gap.size() == n && c.low.size() == n && c.high.size() == n &&
       (c.breathing.empty() || c.breathing.size() == n));
  return c;
}

}  // namespace gapfront::live
