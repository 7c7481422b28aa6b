// From gap to what the resin and the mold feel.
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "core/parallel.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "laminate/lay_up.hpp"

namespace gapfront {
namespace {

// An open channel up to this is not called under-filled: at 0.05 mm it carries c³/12 = 1e-5 mm³, under 1 % of what
// a 3 mm mat laminate carries (K·h of a few 1e-3 mm³), and gaps are hardly known better.
constexpr double kChannelAllowed = 0.05;
// Thinnest cavity without any glass that is computed with, mm: no mold is set finer; keeps the channel passable.
constexpr double kThinnestOpen = 0.01;

// Gap from one point of a curve to the next, and beyond the gaps it is made for, mm; a stack whose gaps differ by more
// than 40 mm is evaluated node by node.
constexpr double kCurveStep = 0.002, kCurveBeyond = 0.1;
constexpr std::size_t kMaxPoints = 20000;

double min_of(const laminate::Stack& stack, double weight = 1) {
  return std::max(weight * stack.minimum(), kThinnestOpen);
}

/// Where the sheet is: its normal there, direction 0 of the plies, and so many times the glass of the stack. More glass
/// is thicker by as much at the same packing, so w times a stack does in a gap h what w of it do in h/w each.
struct Spot {
  const Vec3 &normal, &axis;
  double weight = 1;
};

/// What the resin feels in a gap h where the plies of the plain stack conduct t.
void set_flow(NodeLaminate& n, const laminate::Stack& stack, double h, std::array<double, 3> t, const Spot& at) {
  n.loft = at.weight * stack.loft();
  n.channel = std::max(0.0, h - n.loft);
  n.fluid_thickness = h - at.weight * stack.solid();
  for (double& c : t) c *= at.weight;
  const double open = n.channel * n.channel * n.channel / 12;  // eq. 7, plane channel in parallel
  if (stack.isotropic()) {
    n.conductance = n.conductance2 = t[0] + open;
  } else {
    const laminate::Principal a = laminate::principal(t[0], t[1], t[2]);
    n.conductance = a.first + open;
    n.conductance2 = a.across + open;
    n.direction = laminate::ply_axis(at.normal, at.axis, a.angle);
  }
}

NodeLaminate evaluate(const laminate::Stack& stack, double gap, const LaminateOptions& o, const Spot& at) {
  if (!std::isfinite(gap)) throw Error(Fault::input, "laminate: the gap must be a finite number at every node");
  NodeLaminate n;
  const double minimum = min_of(stack, at.weight);
  const bool closed = gap < minimum;
  const double h = std::max(gap, minimum);
  const laminate::StackState s = stack.squeeze(std::min(h / at.weight, stack.loft()));
  set_flow(n, stack, h, stack.conductance(s), at);
  n.shear = stack.shear();
  n.compaction = s.pressure, n.load_fraction = s.pressure / o.clamping_pressure;
  const double solid = at.weight * stack.solid(), fibre = at.weight * stack.fibre_mass();
  n.vf = solid / h;  // eq. 10
  const double resin = h - solid;
  n.weight_fraction = fibre / (fibre + resin * o.resin_density);  // eq. 10
  n.porosity = resin / h;
  n.under_filled = n.channel > kChannelAllowed;
  n.over_packed = closed || n.compaction > o.clamping_pressure;
  n.weight_out = n.weight_fraction < o.weight_fraction_low || n.weight_fraction > o.weight_fraction_high;
  return n;
}

// A zone that only changes what lies there: the draping of the stack, or its direction.
bool only_changes(const LaminateZone& z) {
  return z.plies.empty() && (z.drape != 1 || z.axis != Vec3::Zero() || !z.follow.empty());
}

std::vector<int> zones_at(const Vec3& p, const LaminateOptions& o) {
  std::vector<int> zones;
  for (std::size_t z = 0; z < o.zones.size(); ++z)
    if (o.zones[z].where.contains(p)) zones.push_back(static_cast<int>(z));
  return zones;
}

// The stack at a place: the plies of everywhere, or of the last replacing zone that holds it, and on top of that
// every adding zone; all of it draped as the zones say. `net`: what lies below the adding ones is first draped as the
// nets lay it at that node (a patch is laid by itself).
std::vector<Ply> plies_of(const std::vector<int>& zones, const LaminateOptions& o,
                          std::optional<std::size_t> net = std::nullopt) {
  std::vector<Ply> plies = o.plies;
  for (int z : zones)
    if (!o.zones[z].adds && !only_changes(o.zones[z])) plies = o.zones[z].plies;
  if (net) laminate::shear_plies(plies, o, *net);
  double drape = 1;
  for (int z : zones) {
    drape *= o.zones[z].drape;
    if (o.zones[z].adds) plies.insert(plies.end(), o.zones[z].plies.begin(), o.zones[z].plies.end());
  }
  for (auto& p : plies) p.count *= drape;
  return plies;
}

Vec3 axis_at(const Vec3& p, const std::vector<int>& zones, const LaminateOptions& o) {
  Vec3 axis = o.axis;
  for (int z : zones) {
    if (o.zones[z].axis != Vec3::Zero()) axis = o.zones[z].axis;
    if (o.zones[z].follow.size() > 1) axis = laminate::beside_path(o.zones[z].follow, p).second;
  }
  return axis;
}

/// Whether the nets lay the cloth there: not where a zone says how it is draped.
bool by_net(const std::vector<int>& zones, const LaminateOptions& o) {
  return !o.draped.empty() && std::none_of(zones.begin(), zones.end(), [&](int z) {
    const LaminateZone& zone = o.zones[z];
    return zone.drape != 1 || zone.axis != Vec3::Zero() || !zone.follow.empty();
  });
}

void count_in(ZoneState& z, const NodeLaminate& n, double area) {
  z.vf_min = z.area > 0 ? std::min(z.vf_min, n.vf) : n.vf;
  z.vf_max = std::max(z.vf_max, n.vf);
  z.area += area;
  z.under_filled += n.under_filled * area;
  z.over_packed += n.over_packed * area;
  z.weight_out += n.weight_out * area;
  z.load += n.compaction * area;
  z.vf_mean += n.vf * area;
  z.weight_mean += n.weight_fraction * area;
}

/// The plies are looked at where a stack is made of them.
void check_draping(const LaminateOptions& options) {
  for (const auto& z : options.zones)
    if (!(z.drape > 0)) throw Error(Fault::input, "laminate: the draping of zone \"" + z.name + "\" must be positive");
}

void check_radii(const LaminateOptions& options) {
  for (const auto& r : options.radii)
    if (r.path.size() < 2 || !(r.radius >= 0 && r.turn > 0 && r.turn < M_PI && r.factor >= 0))
      throw Error(Fault::input, "laminate: inside radius \"" + r.name +
                                    "\" needs a path of two places, a radius, and a turn between 0 and 180 deg");
}

}  // namespace

// Direction 0 of a draped ply: `axis` laid onto the sheet. Where it stands nearly on the sheet (within 6°: cos² >
// 0.99) its projection says nothing, and another axis of the tool takes over.
Vec3 laminate::ply_axis(const Vec3& normal, Vec3 axis, double angle) {
  axis.normalize();
  if (const double along = normal.dot(axis); along * along > 0.99)
    axis = std::abs(axis.y()) < 0.9 ? Vec3::UnitY() : Vec3::UnitZ();
  const Vec3 e1 = (axis - normal * normal.dot(axis)).normalized(), e2 = normal.cross(e1);
  return std::cos(angle) * e1 + std::sin(angle) * e2;
}

std::pair<double, Vec3> laminate::beside_path(const std::vector<Vec3>& path, const Vec3& p) {
  std::pair<double, Vec3> best{std::numeric_limits<double>::infinity(), Vec3::Zero()};
  for (std::size_t k = 1; k < path.size(); ++k)
    if (const double d = distance_to_path(p, {path[k - 1], path[k]}); d < best.first) best = {d, path[k] - path[k - 1]};
  return best;
}

laminate::LayUp laminate::lay_up(const Sheet& sheet, const LaminateOptions& options) {
  for (const DrapedCloth& net : options.draped)
    if (net.nodes.size() != sheet.size())
      throw Error(Fault::input, "laminate: the cloth was draped over another sheet; drape it over this one");
  LayUp out;
  std::map<std::pair<std::vector<int>, std::vector<int>>, std::size_t> known;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3& p = sheet.mesh.points[i];
    out.zones.push_back(zones_at(p, options));
    const auto& zones = out.zones.back();
    const bool net = by_net(zones, options);
    const auto [it, fresh] =
        known.try_emplace({zones, net ? drape_key(options, i) : std::vector<int>{}}, out.stacks.size());
    if (fresh) out.stacks.emplace_back(plies_of(zones, options, net ? std::optional(i) : std::nullopt));
    out.stack_of.push_back(it->second);
    out.axis.push_back(net ? ply_axis(sheet.normals[i], options.axis, options.draped[0].nodes[i].turn)
                           : axis_at(p, zones, options));
  }
  return out;
}

std::vector<Ply> laminate::plies_at(const Vec3& p, const LaminateOptions& options) {
  return plies_of(zones_at(p, options), options);
}

std::vector<const Ply*> laminate::all_plies(const LaminateOptions& options) {
  std::vector<const Ply*> out;
  for (const Ply& p : options.plies) out.push_back(&p);
  for (const LaminateZone& z : options.zones)
    for (const Ply& p : z.plies) out.push_back(&p);
  return out;
}

std::vector<double> laminate::spread_at(const Sheet& sheet, const LaminateOptions& options) {
  std::vector<double> out;
  std::map<std::vector<int>, double> known;
  for (const Vec3& p : sheet.mesh.points) {
    const auto [it, fresh] = known.try_emplace(zones_at(p, options), 0);
    if (fresh)
      for (const Ply& ply : plies_of(it->first, options))
        it->second = std::max(it->second, ply.reinforcement.permeability.spread);
    out.push_back(it->second);
  }
  return out;
}

void check_options(const LaminateOptions& options) {
  check_draping(options);
  check_radii(options);
  for (const Ply* p : laminate::all_plies(options)) check_ply(*p);
}

NodeLaminate laminate::evaluate_stack(const std::vector<Ply>& plies, double gap, const LaminateOptions& options) {
  const Vec3 up = Vec3::UnitZ();
  return evaluate(laminate::Stack(plies), gap, options, {up, options.axis});
}

LaminateMap laminate::evaluate_laminate(const Sheet& sheet, const std::vector<double>& gap,
                                        const LaminateOptions& options) {
  if (gap.size() != sheet.size())
    throw Error(Fault::input, "laminate: one gap per node is needed (" + std::to_string(sheet.size()) + " nodes, " +
                                  std::to_string(gap.size()) + " gaps)");
  check_draping(options);
  check_radii(options);
  const std::size_t n = sheet.size();
  const LayUp laid = lay_up(sheet, options);
  const auto& zones = laid.zones;
  const std::vector<Beside> beside = channels(sheet, gap, options);
  LaminateMap map;
  map.nodes.resize(n);
  parallel_for(
      n,
      [&](std::size_t i) {
        map.nodes[i] = evaluate(laid.stacks[laid.stack_of[i]], gap[i], options, {sheet.normals[i], laid.axis[i]});
        if (!beside.empty()) add_beside(map.nodes[i], beside[i], sheet.normals[i]);
      },
      512);
  map.zones.resize(1 + options.zones.size());
  for (std::size_t z = 0; z < options.zones.size(); ++z) map.zones[z + 1].name = options.zones[z].name;
  ZoneState all;
  for (std::size_t i = 0; i < n; ++i) {
    count_in(all, map.nodes[i], sheet.area[i]);
    if (zones[i].empty()) count_in(map.zones[0], map.nodes[i], sheet.area[i]);
    for (int z : zones[i]) count_in(map.zones[z + 1], map.nodes[i], sheet.area[i]);
  }
  for (auto& z : map.zones)
    if (z.area > 0) z.vf_mean /= z.area, z.weight_mean /= z.area;
  map.under_filled_area = all.under_filled, map.over_packed_area = all.over_packed;
  map.weight_out_area = all.weight_out, map.compaction_load = all.load;
  return map;
}

/// The conductance of the plies of one stack over the gap.
struct LaminateCurves::Curve {
  laminate::Stack stack;
  double low = 1e300, high = -1e300;  ///< mm
  std::vector<std::array<double, 3>> t = {};

  std::array<double, 3> exact(double h) const { return stack.conductance(stack.squeeze(std::min(h, stack.loft()))); }
  std::array<double, 3> operator()(double h) const {
    const double at = (h - low) / kCurveStep;
    if (!(at >= 0 && at < double(t.size()) - 1)) return exact(h);
    const auto k = static_cast<std::size_t>(at);
    const double fraction = at - double(k);
    std::array<double, 3> out;
    for (int d = 0; d < 3; ++d) out[d] = (1 - fraction) * t[k][d] + fraction * t[k + 1][d];
    return out;
  }
};

LaminateCurves::LaminateCurves(const Sheet& sheet, const std::vector<double>& about, const LaminateOptions& options)
    : sheet_(sheet), options_(options) {
  laminate::LayUp laid = laminate::lay_up(sheet, options);
  for (auto& s : laid.stacks) curves_.push_back({std::move(s)});
  stack_of_ = std::move(laid.stack_of), axis_ = std::move(laid.axis);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    Curve& c = curves_[stack_of_[i]];
    const double h = std::max(about[i], min_of(c.stack));
    c.low = std::min(c.low, h), c.high = std::max(c.high, h);
  }
  for (Curve& c : curves_) {
    c.low = std::max(min_of(c.stack), c.low - kCurveBeyond);
    // Beyond the loft the plies conduct what they do at it, and one more point is enough.
    c.high = std::min(c.high + kCurveBeyond, std::max(c.low, c.stack.loft() + kCurveStep));
    const auto points = static_cast<std::size_t>(std::ceil((c.high - c.low) / kCurveStep)) + 1;
    if (points > kMaxPoints) continue;
    for (std::size_t k = 0; k < points; ++k) c.t.push_back(c.exact(c.low + kCurveStep * double(k)));
  }
}

LaminateCurves::~LaminateCurves() = default;

LaminateMap LaminateCurves::operator()(const std::vector<double>& gap, const std::vector<double>& weight) const {
  LaminateMap map;
  map.nodes.resize(sheet_.size());
  for (std::size_t i = 0; i < sheet_.size(); ++i) {
    if (!std::isfinite(gap[i])) throw Error(Fault::input, "laminate: the gap must be a finite number at every node");
    const Curve& c = curves_[stack_of_[i]];
    const double w = weight.empty() ? 1 : weight[i], h = std::max(gap[i], min_of(c.stack, w));
    set_flow(map.nodes[i], c.stack, h, c(h / w), {sheet_.normals[i], axis_[i], w});
  }
  const auto beside = laminate::channels(sheet_, gap, options_);
  for (std::size_t i = 0; i < beside.size(); ++i) laminate::add_beside(map.nodes[i], beside[i], sheet_.normals[i]);
  return map;
}

}  // namespace gapfront
