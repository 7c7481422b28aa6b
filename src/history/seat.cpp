#include "history/seat.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "core/distributions.hpp"
#include "core/rigid_motion.hpp"

namespace gapfront::history {
namespace {

// The halves count as moved when so large a rigid part has a chance below 0.5 % (a re-check is made a few times a
// year: one false alarm in the life of many tools), and where it is worth a look: what two good scanners differ by.
constexpr double kMoved = 0.005, kLeastMove = 0.01;
// Of the face; more than that is no local wear beside a seat that moved, unless it is far deeper than the seat moved.
constexpr double kLocal = 0.25;
// A place whose gap as measured has changed by less than this share of the rigid part there stood still, as it seems.
constexpr double kStill = 0.3;
// Of the face: as much as wear of all the rest would leave as its rim. Less is a chance place beside an uncertain seat.
constexpr double kRim = 0.1;

// Of the share below: a rigid part so small that the frame does not tell whose it is cannot be a wide wear either.
constexpr double kKnown = 0.25;

/// How far each face moved out of the cavity between two maps of it: lower, upper.
std::pair<double, double> moves_at(const Sheet& sheet, const NodeGap& now, const NodeGap& then, std::size_t i) {
  const auto at = [&](const NodeGap& n, double side) {
    return sheet.normals[i].dot(n.mid + side * 0.5 * n.gap * n.direction);
  };
  return {at(then, -1) - at(now, -1), at(now, 1) - at(then, 1)};
}

/// The share of the rigid part that the lower face made against its own targets, with its standard uncertainty. Wear of
/// the lower face is seen there; a seat that moved is not.
std::pair<double, double> lower_share(const Sheet& sheet, const Record& now, const Record& then, const Drift& d) {
  Vec3 sum = Vec3::Zero();
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (const double w = d.rigid.weight[i]; w > 0)
      sum += w * d.rigid.row(sheet, d.map, int(i)) * face_moves(sheet, now, then, int(i)).first;
  const Vec3 lower = d.rigid.inverse * sum;
  double both = 0, square = 0, variance = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double w = d.rigid.weight[i], effect = d.rigid.part.effect[i];
    if (!(w > 0)) continue;
    both += w * effect * d.rigid.row(sheet, d.map, int(i)).dot(lower), square += w * effect * effect;
    const Vector6 row = motion_jacobian(sheet.mesh.points[i], d.carry.pivot).transpose() * sheet.normals[i];
    variance += w * row.dot(d.carry.covariance * row);
  }
  return square > 0 ? std::pair(both / square, std::sqrt(variance / square)) : std::pair(0.0, kScatters);
}

/// A place beside the rigid part where the gap as it was measured has hardly changed: as likely the rest wore, and this
/// is what did not.
bool stood_still(const Sheet& sheet, const Drift& d, const Place& p) {
  double change = 0, rigid = 0;
  for (const int i : p.nodes) change += sheet.area[i] * d.value[i], rigid += sheet.area[i] * d.rigid.part.effect[i];
  return std::abs(change) < kStill * std::abs(rigid);
}

/// Whether a rim that stood still says that the seat did: neither its gap nor its lower face has changed beyond U; it
/// shows no rigid motion; it tells the seat's motion over the whole face by far better than the change of the rest; and
/// the rest has opened. Else a seat that moved would have been undone over all of the rim by as much material as it
/// moved. Of a gap that closed, such a rim may have worn.
bool rim_holds(const Sheet& sheet, const Record& now, const Record& then, const Drift& d) {
  std::vector<double> still(sheet.size(), std::numeric_limits<double>::quiet_NaN());
  double face = 0, area = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    face += sheet.area[i];
    const NodeGap& n = d.map.nodes[i];
    if (n.measured && std::abs(d.value[i]) <= n.U && std::abs(face_moves(sheet, now, then, int(i)).first) <= n.U)
      still[i] = d.value[i], area += sheet.area[i];
  }
  if (area < kRim * face) return false;
  const RigidFit rim = conformity::solve_rigid(sheet, d.map, still);
  if (p_value(rigid_chi2(sheet, d, rim), 3) < kMoved) return false;
  const Eigen::Matrix3d covariance = rigid_covariance(sheet, d, rim);
  double unknown = 0, change = 0, opened = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!d.map.nodes[i].measured || std::isfinite(still[i])) continue;
    const Vec3 row = rim.row(sheet, d.map, int(i));
    unknown += sheet.area[i] * row.dot(covariance * row), change += sheet.area[i] * d.value[i] * d.value[i];
    opened += sheet.area[i] * d.value[i];
  }
  return opened > 0 && 2 * std::sqrt(unknown) < kStill * std::sqrt(change);
}

}  // namespace

std::pair<double, double> face_moves(const Sheet& sheet, const Record& now, const Record& then, int i) {
  const auto k = static_cast<std::size_t>(i);
  return moves_at(sheet, now.gap.nodes[k], then.gap.nodes[k], k);
}

FaceMoves moves_since(const Sheet& sheet, const GapMap& now, const Record& then) {
  const double none = std::numeric_limits<double>::quiet_NaN();
  FaceMoves out{std::vector<double>(sheet.size(), none), std::vector<double>(sheet.size(), none), then.date};
  for (std::size_t i = 0; i < sheet.size() && i < now.nodes.size() && i < then.gap.nodes.size(); ++i)
    if (now.nodes[i].measured && then.gap.nodes[i].measured)
      std::tie(out.lower[i], out.upper[i]) = moves_at(sheet, now.nodes[i], then.gap.nodes[i], i);
  return out;
}

Seat seat_of(const Sheet& sheet, const Record& now, const Record& then, const Drift& d, const Found& found,
             bool targets_hold) {
  if (d.rigid.part.rms < kLeastMove) return Seat::still;
  double face = 0, still = 0, area = 0, top = 0;
  for (const double a : sheet.area) face += a;
  for (const Place& p : found.places) {
    const bool stood = stood_still(sheet, d, p);
    for (const int i : p.nodes)
      area += sheet.area[i], still += stood ? sheet.area[i] : 0, top = std::max(top, std::abs(d.rest[i]));
  }
  const bool deep = d.rigid.part.rms <= kStill * top;  // beside so small a motion
  // What an uncertain registration explains may as well be wear, of which the places are then what is left.
  if (d.rigid_p >= kMoved) return still > kRim * face && !deep ? Seat::untold : Seat::still;
  const bool whole = found.places.empty() && found.inflation < kScatters;
  // The frame hangs on the lower half's targets: fewer than three, or one that moved, and it says nothing of the faces.
  const bool framed = targets_hold && d.carry.targets >= 3;
  if (framed) {
    const auto [share, u] = lower_share(sheet, now, then, d);
    // All of the face alike is as well a frame of targets that was set anew.
    if (share - 2 * u > 0.5) return whole ? Seat::untold : Seat::worn;
    if (u < kKnown && share + 2 * u >= 0.5) return Seat::untold;
    if (u < kKnown && !whole && rim_holds(sheet, now, then, d)) return Seat::worn;
  }
  if (whole) return Seat::moved;
  const bool wide = area > kLocal * face && !deep;
  return found.inflation >= kScatters || wide || still > 0 ? Seat::untold : Seat::moved;
}

}  // namespace gapfront::history
