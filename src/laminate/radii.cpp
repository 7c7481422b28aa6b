// Glass across inside radii: how far it stands off, and the channel that leaves.
#include "gapfront/radii.hpp"

#include <algorithm>
#include <cmath>

#include "gapfront/units.hpp"
#include "laminate/lay_up.hpp"

namespace gapfront {

const char* to_string(Packing p) {
  switch (p) {
    case Packing::packed:
      return "packed";
    case Packing::tucked:
      return "tucked";
    case Packing::loose:
      return "loose";
    case Packing::roving:
      return "roving";
  }
  return "";
}

namespace laminate {
namespace {

// What a hand or a roller presses dry glass into a corner with: 5 N on 10 cm² (own choice, order of magnitude).
constexpr double kHand = 5e3;
// The section is wide against its height and smooth: Simpson with 100 intervals is off by less than 1e-6 of it.
constexpr int kIntervals = 100;
// Roving lies at about half glass by volume (from memory, order of magnitude; as in correct::roving).
constexpr double kRovingVf = 0.5;
// The channel is laid on nodes so near to the radius, in median edges: a row of them is hit all along, wherever the
// path runs between two.
constexpr double kReach = 0.75;

/// Height over the corner of a rounding r, at x beside the bisector; 1/cos and tan of half the turn.
double rounding(double r, double x, double secant, double tangent) {
  const double flat = r * tangent / secant;  // r sin(turn/2): where it meets the wall
  x = std::abs(x);
  return x < flat ? r * secant - std::sqrt(r * r - x * x) : x * tangent;
}

double slope(double r, double x, double secant, double tangent) {
  return std::abs(x) < r * tangent / secant ? x / std::sqrt(r * r - x * x) : std::copysign(tangent, x);
}

/// ∫ c³/12 across the channel, c normal to its middle: lubrication, as the channel is long and its height changes
/// slowly (Poiseuille between plates; references, 7). tests/external/bridge_section.py solves the section.
double section_conductance(double face, double glass, double turn) {
  const double secant = 1 / std::cos(turn / 2), tangent = std::tan(turn / 2), half = glass * std::sin(turn / 2);
  double sum = 0;
  for (int k = 0; k <= kIntervals; ++k) {
    const double x = half * (2.0 * k / kIntervals - 1) * (1 - 1e-12);
    const double c = rounding(glass, x, secant, tangent) - rounding(face, x, secant, tangent);
    const double m = 0.5 * (slope(glass, x, secant, tangent) + slope(face, x, secant, tangent));
    const double weight = k == 0 || k == kIntervals ? 1 : k % 2 ? 4 : 2;
    sum += weight * c * c * c / 12 / (1 + m * m);
  }
  return sum * 2 * half / kIntervals / 3;
}

struct Band {
  std::vector<int> nodes;
  std::vector<Vec3> along;
  double area = 0, gap = 0;  ///< mean along it
};

Band band_of(const Sheet& sheet, const std::vector<double>& gap, const InsideRadius& r) {
  Band out;
  const double reach = std::max(0.5 * r.width(), kReach * sheet.edge_p50);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const auto [d, way] = beside_path(r.path, sheet.mesh.points[i]);
    if (d > reach) continue;
    out.nodes.push_back(static_cast<int>(i)), out.along.push_back(way.normalized());
    out.area += sheet.area[i], out.gap += sheet.area[i] * gap[i];
  }
  if (out.area > 0) out.gap /= out.area;
  return out;
}

}  // namespace

double bridge_area(double face, double glass, double turn) {
  return std::max(0.0, glass * glass - face * face) * (std::tan(turn / 2) - turn / 2);
}

double free_radius(double stiffness, double pressure, double turn) {
  // The free length of the linear beam over the turn, times what brings the height to that of the elastica: 3/4 for a
  // little turn (the beam stands (3/32) s·turn off the corner, an arc of radius s/turn 1/8), less for more. Fitted to
  // tests/external/bridge_elastica.py, to 1.5 % up to 150°.
  const double square = turn * turn, height = 0.75 - 0.0237 * square - 0.0014 * square * square;
  return height * std::cbrt(12 * stiffness * turn / pressure) / turn;
}

Bridge bridge(const InsideRadius& r, const std::vector<Ply>& plies, double gap, const LaminateOptions& o) {
  Bridge out;
  if (r.packing == Packing::packed || r.packing == Packing::roving || plies.empty()) return out;
  double weight = 0, stiffness = 0;  // plies slide on each other
  for (const Ply& p : plies) {
    const double w = p.count * p.reinforcement.areal_weight * free_fall;
    weight += w, stiffness += w * std::pow(p.reinforcement.bending_length, 3);  // Peirce 1930: c³ = G/w
  }
  out.free_radius = free_radius(stiffness, r.packing == Packing::tucked ? kHand : weight, r.turn);
  // Middle of the corner: a rounding stands r (1/cos − 1) off it.
  const double rise = 1 / std::cos(r.turn / 2) - 1;
  // The closing upper half pushes the glass home until it bears the clamping there.
  out.limit = std::max(0.0, gap - Stack(plies).thickness_at(o.clamping_pressure));
  out.height = std::clamp(r.factor * (out.free_radius - r.radius) * rise, 0.0, out.limit);
  const double glass = r.radius + out.height / rise;
  out.area = bridge_area(r.radius, glass, r.turn);
  out.conductance = out.height > 0 ? section_conductance(r.radius, glass, r.turn) : 0;
  return out;
}

double length_of(const InsideRadius& r) {
  double out = 0;
  for (std::size_t k = 1; k < r.path.size(); ++k) out += (r.path[k] - r.path[k - 1]).norm();
  return out;
}

double roving_mass(const InsideRadius& r, const Bridge& b) {
  return length_of(r) * b.area * kRovingVf * Reinforcement{}.density;
}

std::vector<Bridge> bridges(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& o) {
  std::vector<Bridge> out;
  for (const InsideRadius& r : o.radii)
    out.push_back(bridge(r, plies_at(r.path[r.path.size() / 2], o), band_of(sheet, gap, r).gap, o));
  return out;
}

std::vector<Beside> channels(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& o) {
  std::vector<Beside> out;
  for (const InsideRadius& r : o.radii) {
    if (r.packing == Packing::packed || r.packing == Packing::roving) continue;
    const Band band = band_of(sheet, gap, r);
    if (!(band.area > 0)) continue;
    const Bridge b = bridge(r, plies_at(r.path[r.path.size() / 2], o), band.gap, o);
    if (!(b.conductance > 0)) continue;
    if (out.empty()) out.resize(sheet.size());
    // Spread over the band so that a section across it carries what the channel does.
    const double each = b.conductance * length_of(r) / band.area;
    for (std::size_t k = 0; k < band.nodes.size(); ++k) {
      Beside& n = out[band.nodes[k]];
      if (each > n.conductance) n = {each, band.along[k]};
    }
  }
  return out;
}

void add_beside(NodeLaminate& n, const Beside& b, const Vec3& normal) {
  const Vec3 flat = b.along - normal * normal.dot(b.along);
  if (!(b.conductance > 0) || !(flat.norm() > 0)) return;
  const Vec3 along = flat.normalized(), across = normal.cross(along);
  // Sum of the glass's tensor and of the channel's, in axes (along, across).
  const Vec3 first = n.direction.squaredNorm() < 0.5 ? along : n.direction;
  const double c = first.dot(along), s = first.dot(across);
  const double xx = n.conductance * c * c + n.conductance2 * s * s + b.conductance;
  const double yy = n.conductance * s * s + n.conductance2 * c * c, xy = (n.conductance - n.conductance2) * c * s;
  const Principal both = principal(xx, xy, yy);
  n.conductance = both.first, n.conductance2 = both.across;
  n.direction = std::cos(both.angle) * along + std::sin(both.angle) * across;
  n.beside = b.conductance;
}

}  // namespace laminate
}  // namespace gapfront
