// From gap to what the resin and the mold feel.
#include <algorithm>
#include <cmath>
#include <map>

#include "gapfront/error.hpp"
#include "geometry/parallel.hpp"
#include "laminate/stack.hpp"

namespace gapfront {
namespace {

// An open channel up to this is not called under-filled: at 0.05 mm it carries c³/12 = 1e-5 mm³, under 1 % of what
// a 3 mm mat laminate carries (K·h of a few 1e-3 mm³), and gaps are hardly known better.
constexpr double channel_allowed = 0.05;
// Thinnest cavity without any glass that is computed with, mm: no mold is set finer; keeps the channel passable.
constexpr double thinnest_open = 0.01;

struct Axes {
  double first, across, angle;
};

// Principal values and direction of a symmetric 2×2 tensor.
Axes principal(double xx, double xy, double yy) {
  const double mean = 0.5 * (xx + yy), half = std::hypot(0.5 * (xx - yy), xy);
  return {mean + half, mean - half, 0.5 * std::atan2(2 * xy, xx - yy)};
}

// Direction 0 of a draped ply: the tool's X axis laid onto the sheet; where X stands nearly on the sheet (walls
// facing X, within 6° of it: cos² > 0.99) the Y axis takes over.
Vec3 ply_axis(const Vec3& normal, double angle) {
  Vec3 x = Vec3::UnitX();
  if (const double along = normal.x(); along * along > 0.99) x = Vec3::UnitY();
  const Vec3 e1 = (x - normal * normal.dot(x)).normalized(), e2 = normal.cross(e1);
  return std::cos(angle) * e1 + std::sin(angle) * e2;
}

NodeLaminate evaluate(const Stack& stack, double gap, const LaminateOptions& o, const Vec3& normal) {
  if (!std::isfinite(gap)) throw Error(Fault::input, "laminate: the gap must be a finite number at every node");
  NodeLaminate n;
  const double least = std::max(stack.least(), thinnest_open);
  const bool closed = gap < least;
  const double h = std::max(gap, least);
  const StackState s = stack.squeeze(std::min(h, stack.loft()));
  n.loft = stack.loft();
  n.channel = std::max(0.0, h - stack.loft());
  n.compaction = s.pressure;
  n.vf = stack.solid() / h;  // eq. 10
  const double resin = h - stack.solid();
  n.weight_fraction = stack.fibre_mass() / (stack.fibre_mass() + resin * o.resin_density);  // eq. 10
  n.porosity = resin / h;
  n.fluid_thickness = resin;
  const auto t = stack.conductance(s);
  const double open = n.channel * n.channel * n.channel / 12;  // eq. 7, plane channel in parallel
  if (stack.isotropic()) {
    n.conductance = n.conductance2 = t[0] + open;
  } else {
    const Axes a = principal(t[0], t[1], t[2]);
    n.conductance = a.first + open;
    n.conductance2 = a.across + open;
    n.direction = ply_axis(normal, a.angle);
  }
  n.under_filled = n.channel > channel_allowed;
  n.over_packed = closed || n.compaction > o.clamping_pressure;
  n.weight_out = n.weight_fraction < o.weight_fraction_low || n.weight_fraction > o.weight_fraction_high;
  return n;
}

// The stack at a place: the plies of everywhere, or of the last replacing zone that holds it, and on top of that
// every adding zone. The key names the combination.
std::vector<int> zones_at(const Vec3& p, const LaminateOptions& o) {
  std::vector<int> key{-1};
  for (std::size_t z = 0; z < o.zones.size(); ++z) {
    if (!o.zones[z].where.contains(p)) continue;
    if (o.zones[z].adds)
      key.push_back(static_cast<int>(z));
    else
      key[0] = static_cast<int>(z);
  }
  return key;
}

std::vector<Ply> plies_of(const std::vector<int>& key, const LaminateOptions& o) {
  std::vector<Ply> plies = key[0] < 0 ? o.plies : o.zones[key[0]].plies;
  for (std::size_t k = 1; k < key.size(); ++k)
    plies.insert(plies.end(), o.zones[key[k]].plies.begin(), o.zones[key[k]].plies.end());
  return plies;
}

}  // namespace

NodeLaminate evaluate_stack(const std::vector<Ply>& plies, double gap, const LaminateOptions& options) {
  return evaluate(Stack(plies), gap, options, Vec3::UnitZ());
}

LaminateMap evaluate_laminate(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& options) {
  if (gap.size() != sheet.size())
    throw Error(Fault::input, "laminate: one gap per node is needed (" + std::to_string(sheet.size()) + " nodes, " +
                                  std::to_string(gap.size()) + " gaps)");
  std::map<std::vector<int>, std::size_t> known;
  std::vector<Stack> stacks;
  std::vector<std::size_t> stack_of(sheet.size());
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const auto key = zones_at(sheet.mesh.points[i], options);
    const auto [it, fresh] = known.try_emplace(key, stacks.size());
    if (fresh) stacks.emplace_back(plies_of(key, options));
    stack_of[i] = it->second;
  }
  LaminateMap map;
  map.nodes.resize(sheet.size());
  parallel_for(
      sheet.size(),
      [&](std::size_t i) { map.nodes[i] = evaluate(stacks[stack_of[i]], gap[i], options, sheet.normals[i]); }, 512);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const auto& n = map.nodes[i];
    const double area = sheet.area[i];
    map.under_filled_area += n.under_filled * area;
    map.over_packed_area += n.over_packed * area;
    map.weight_out_area += n.weight_out * area;
    map.compaction_load += n.compaction * area;
  }
  return map;
}

}  // namespace gapfront
