// The rigid motion that map and spot readings have between them, and whether it is more than chance.
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include "cavity/spots.hpp"
#include "core/distributions.hpp"

namespace gapfront {

namespace {

/// Readings for shift and tilts: two more than the three parameters, so that the residuals say something.
constexpr std::size_t enough_for_tilt = 5;
/// A shift needs a second reading to be common.
constexpr std::size_t enough_for_shift = 2;
/// Spread of the readings across their longest line, in shares of that line: below it a tilt about the line is
/// extrapolated tenfold and says nothing.
constexpr double min_spread = 0.1;
/// Standard uncertainty that stands in where both sides claim to be exact, mm: a tenth of a micrometre is below
/// what any gauge resolves.
constexpr double min_u = 1e-4;

/// Are the places spread in both directions across the axis?
bool spread_out(const std::vector<Vec3>& places, const Vec3& pivot, const Vec3& u, const Vec3& v) {
  Eigen::Matrix2d m = Eigen::Matrix2d::Zero();
  for (const Vec3& p : places) {
    const Eigen::Vector2d q((p - pivot).dot(u), (p - pivot).dot(v));
    m += q * q.transpose();
  }
  const Eigen::Vector2d e = Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>().computeDirect(m).eigenvalues();
  return e(1) > 0 && e(0) > min_spread * min_spread * e(1);
}

}  // namespace

double SpotShift::at(const NodeGap& node) const {
  return node.direction.dot(offset * axis + tilt.cross(node.mid - pivot));
}

SpotShift cavity::spot_shift(const Sheet& sheet, const GapMap& map, const std::vector<SpotReading>& readings) {
  const auto nodes = cavity::nodes_of_spots(sheet, map, readings);
  std::vector<const NodeGap*> at;
  std::vector<Vec3> places;
  std::vector<double> apart, variance;
  for (std::size_t k = 0; k < readings.size(); ++k) {
    if (!nodes[k]) continue;
    const NodeGap& g = map.nodes[*nodes[k]];
    const double u = readings[k].U / map.coverage;
    at.push_back(&g);
    places.push_back(g.mid);
    apart.push_back(g.gap - readings[k].thickness);
    variance.push_back(std::max(min_u * min_u, u * u + g.u_lower * g.u_lower + g.u_upper * g.u_upper));
  }
  SpotShift out;
  out.readings = int(at.size());
  if (at.size() < enough_for_shift) return out;
  Vec3 axis = Vec3::Zero(), middle = Vec3::Zero();
  double weights = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (map.nodes[i].measured) axis += (sheet.area.empty() ? 1 : sheet.area[i]) * map.nodes[i].direction;
  // A closed shell has no opening axis; then the tool's Z serves.
  out.axis = axis.norm() > 0 ? Vec3(axis.normalized()) : Vec3(Vec3::UnitZ());
  for (std::size_t k = 0; k < at.size(); ++k) middle += places[k] / variance[k], weights += 1 / variance[k];
  out.pivot = middle / weights;
  const Vec3 u = out.axis.unitOrthogonal(), v = out.axis.cross(u);
  const int m = at.size() >= enough_for_tilt && spread_out(places, out.pivot, u, v) ? 3 : 1;
  const double dof = double(at.size()) - m;
  // Sums over rows in units of their own standard deviations: of offset and tilts, and of these with the common parts,
  // which are the registration's six motions, the instrument's and the temperature's one each (the same error at every
  // reading).
  std::vector<Vec3> rows;
  std::vector<double> d;
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Matrix<double, 3, 6> by_motion = Eigen::Matrix<double, 3, 6>::Zero();
  Vec3 rhs = Vec3::Zero(), by_instrument = Vec3::Zero(), by_temperature = Vec3::Zero();
  for (std::size_t k = 0; k < at.size(); ++k) {
    const NodeGap& g = *at[k];
    const double s = std::sqrt(variance[k]);
    const Vec3 r = g.mid - out.pivot;
    Vec3 row = Vec3(g.direction.dot(out.axis), 0, 0) / s;
    if (m == 3) row.y() = u.cross(r).dot(g.direction) / s, row.z() = v.cross(r).dot(g.direction) / s;
    rows.push_back(row);
    d.push_back(apart[k] / s);
    Vector6 j;
    j << g.direction, (g.mid - map.pivot).cross(g.direction);
    normal += row * row.transpose();
    rhs += row * d[k];
    by_motion += row * (j / s).transpose();
    by_instrument += row * (g.u_instrument / s), by_temperature += row * (g.u_temperature / s);
  }
  // Stands where tilts that are not sought leave nothing, so that what is sought can be solved for.
  const Eigen::Matrix3d unsought = Vec3(0, m == 1, m == 1).asDiagonal();
  const Eigen::Matrix3d regular = normal + unsought;
  if (!(regular(0, 0) > 0 && regular.topLeftCorner<2, 2>().determinant() > 0 && regular.determinant() > 0))
    return out;  // all on steep walls
  out.parameters = m;
  Eigen::Matrix3d covariance = regular.inverse();
  if (m == 1) covariance.bottomRightCorner<2, 2>().setZero();
  const Vec3 theta = covariance * rhs;
  out.offset = theta(0);
  out.offset_U = map.coverage * std::sqrt(covariance(0, 0));
  if (m == 3) out.tilt = theta(1) * u + theta(2) * v;
  out.chi2 = theta.dot(normal * theta);
  for (std::size_t k = 0; k < rows.size(); ++k) out.residual_chi2 += std::pow(d[k] - rows[k].dot(theta), 2);
  const double scale = std::max(1.0, out.residual_chi2 / dof);
  const auto chance = [&](double chi2, int k) {
    return scale > 1 ? f_beyond(chi2 / k / scale, k, dof) : p_value(chi2, k);
  };
  out.p = chance(out.chi2, m);
  if (m == 3) {
    const Eigen::Vector2d t = theta.tail<2>();
    const Eigen::Matrix2d c = covariance.bottomRightCorner<2, 2>();
    out.p_tilt = chance(t.dot(c.inverse() * t), 2);
  }
  Eigen::Matrix<double, 4, 3> parts = Eigen::Matrix<double, 4, 3>::Zero();  // of (offset, tilt) by the parameters
  parts(0, 0) = 1;
  parts.block<3, 1>(1, 1) = u, parts.block<3, 1>(1, 2) = v;
  out.covariance = scale * (parts * covariance * parts.transpose());
  const Eigen::Matrix<double, 3, 6> motion = covariance * by_motion;
  const Vec3 instrument = covariance * by_instrument, temperature = covariance * by_temperature;
  const Eigen::Matrix3d all = scale * covariance + motion * map.registration * motion.transpose() +
                              instrument * instrument.transpose() + temperature * temperature.transpose() + unsought;
  // Here the parameters' own covariance is scaled already.
  const double beyond = theta.dot(all.inverse() * theta);
  out.p_beyond = scale > 1 ? f_beyond(beyond / m, m, dof) : p_value(beyond, m);
  return out;
}

void cavity::remove_shift(GapMap& map, SpotShift& shift) {
  if (shift.parameters == 0 || shift.removed) return;
  // The same motion about the map's pivot: t = offset·axis + tilt × (map's pivot − shift's pivot).
  const Vec3 arm = map.pivot - shift.pivot;
  Eigen::Matrix<double, 6, 4> motion = Eigen::Matrix<double, 6, 4>::Zero();
  motion.block<3, 1>(0, 0) = shift.axis;
  for (int k = 0; k < 3; ++k) {
    motion.block<3, 1>(0, 1 + k) = Vec3::Unit(k).cross(arm);
    motion(3 + k, 1 + k) = 1;
  }
  const Matrix6 added = motion * shift.covariance * motion.transpose();
  map.registration += added;
  for (NodeGap& g : map.nodes) {
    if (!g.measured) continue;
    const double change = shift.at(g);
    g.gap -= change, g.along_normal -= change;
    g.mid -= 0.5 * change * g.direction;
    Vector6 j;
    j << g.direction, (g.mid - map.pivot).cross(g.direction);
    const double variance = std::max(0.0, j.dot(added * j));
    g.u_registration = std::hypot(g.u_registration, std::sqrt(variance));
    g.U = std::hypot(g.U, map.coverage * std::sqrt(variance));
  }
  shift.removed = true;
}

}  // namespace gapfront
