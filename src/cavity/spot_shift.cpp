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
constexpr std::size_t kEnoughForTilt = 5;
/// A shift needs a second reading to be common.
constexpr std::size_t kEnoughForShift = 2;
/// Spread of the readings across their longest line, in shares of that line: below it a tilt about the line is
/// extrapolated tenfold and says nothing.
constexpr double kMinSpread = 0.1;
/// Standard uncertainty that stands in where both sides claim to be exact, mm: a tenth of a micrometre is below
/// what any gauge resolves.
constexpr double kMinU = 1e-4;

/// A reading beside the map, and how well their difference is known by the independent parts.
struct BesideMap {
  const NodeGap* node;
  double apart, variance;  ///< map − reading, mm; mm²
};

std::vector<BesideMap> beside_map(const Sheet& sheet, const GapMap& map, const std::vector<SpotReading>& readings) {
  const auto nodes = cavity::nodes_of_spots(sheet, map, readings);
  std::vector<BesideMap> out;
  for (std::size_t k = 0; k < readings.size(); ++k) {
    if (!nodes[k]) continue;
    const NodeGap& g = map.nodes[*nodes[k]];
    const double u = readings[k].U / map.coverage;
    out.push_back({&g, g.gap - readings[k].thickness,
                   std::max(kMinU * kMinU, u * u + g.u_lower * g.u_lower + g.u_upper * g.u_upper)});
  }
  return out;
}

/// Mean direction of the gap. A closed shell has no opening axis; then the tool's Z serves.
Vec3 opening_axis(const Sheet& sheet, const GapMap& map) {
  Vec3 axis = Vec3::Zero();
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (map.nodes[i].measured) axis += (sheet.area.empty() ? 1 : sheet.area[i]) * map.nodes[i].direction;
  return axis.norm() > 0 ? Vec3(axis.normalized()) : Vec3(Vec3::UnitZ());
}

Vec3 weighted_middle(const std::vector<BesideMap>& read) {
  Vec3 middle = Vec3::Zero();
  double weights = 0;
  for (const BesideMap& r : read) middle += r.node->mid / r.variance, weights += 1 / r.variance;
  return middle / weights;
}

/// What is sought: offset along `axis`, and, where m is 3, tilts about u and v through the pivot.
struct Motion {
  Vec3 pivot, axis, u, v;
  int m = 1;
};

/// Are the places spread in both directions across the axis?
bool spread_out(const std::vector<BesideMap>& read, const Motion& f) {
  Eigen::Matrix2d m = Eigen::Matrix2d::Zero();
  for (const BesideMap& r : read) {
    const Vec3& p = r.node->mid;
    const Eigen::Vector2d q((p - f.pivot).dot(f.u), (p - f.pivot).dot(f.v));
    m += q * q.transpose();
  }
  const Eigen::Vector2d e = Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>().computeDirect(m).eigenvalues();
  return e(1) > 0 && e(0) > kMinSpread * kMinSpread * e(1);
}

Motion motion_sought(const Sheet& sheet, const GapMap& map, const std::vector<BesideMap>& read) {
  Motion f{weighted_middle(read), opening_axis(sheet, map), {}, {}};
  f.u = f.axis.unitOrthogonal(), f.v = f.axis.cross(f.u);
  if (read.size() >= kEnoughForTilt && spread_out(read, f)) f.m = 3;
  return f;
}

/// Sums over rows in units of their own standard deviations: of offset and tilts, and of these with the common parts,
/// which are the registration's six motions, the instrument's and the temperature's one each (the same error at every
/// reading); the map's shapes go the same way.
struct Equations {
  std::vector<Vec3> rows;
  std::vector<double> d;
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Matrix<double, 3, 6> by_motion = Eigen::Matrix<double, 3, 6>::Zero();
  Eigen::Matrix<double, 3, Eigen::Dynamic> by_shapes;
  Vec3 rhs = Vec3::Zero(), by_instrument = Vec3::Zero(), by_temperature = Vec3::Zero();
};

Equations equations(const std::vector<BesideMap>& read, const Motion& f, const GapMap& map) {
  Equations e;
  e.by_shapes.setZero(3, map.shapes.cols());
  for (const BesideMap& reading : read) {
    const NodeGap& g = *reading.node;
    const double s = std::sqrt(reading.variance);
    const Vec3 r = g.mid - f.pivot;
    Vec3 row = Vec3(g.direction.dot(f.axis), 0, 0) / s;
    if (f.m == 3) row.y() = f.u.cross(r).dot(g.direction) / s, row.z() = f.v.cross(r).dot(g.direction) / s;
    e.rows.push_back(row);
    e.d.push_back(reading.apart / s);
    Vector6 j;
    j << g.direction, (g.mid - map.pivot).cross(g.direction);
    e.normal += row * row.transpose();
    e.rhs += row * e.d.back();
    e.by_motion += row * (j / s).transpose();
    const auto node = static_cast<std::size_t>(&g - map.nodes.data());
    if (map.shapes.cols() > 0) e.by_shapes += row * map.shapes.row(Eigen::Index(node)) / s;
    e.by_instrument += row * (map.common_instrument(node) / s), e.by_temperature += row * (g.u_temperature / s);
  }
  return e;
}

/// Covariance of the parameters when what all readings have in common may explain them too.
Eigen::Matrix3d with_common_parts(const Eigen::Matrix3d& own, const Eigen::Matrix3d& covariance, const Equations& e,
                                  const Matrix6& registration) {
  const Eigen::Matrix<double, 3, 6> motion = covariance * e.by_motion;
  const Eigen::Matrix<double, 3, Eigen::Dynamic> shapes = covariance * e.by_shapes;
  const Vec3 instrument = covariance * e.by_instrument, temperature = covariance * e.by_temperature;
  return own + motion * registration * motion.transpose() + instrument * instrument.transpose() +
         temperature * temperature.transpose() + shapes * shapes.transpose();
}

/// Covariance of (offset, tilt) in the tool's axes.
Eigen::Matrix4d in_tool_axes(const Eigen::Matrix3d& own, const Motion& f) {
  Eigen::Matrix<double, 4, 3> parts = Eigen::Matrix<double, 4, 3>::Zero();  // of (offset, tilt) by the parameters
  parts(0, 0) = 1;
  parts.block<3, 1>(1, 1) = f.u, parts.block<3, 1>(1, 2) = f.v;
  return parts * own * parts.transpose();
}

/// Chance of so large a chi-square if there is no motion.
struct ChanceOf {
  double scale, dof;  ///< of the residuals: χ² with known U; F where they are larger than U says
  double operator()(double chi2, int k) const {
    return scale > 1 ? f_beyond(chi2 / k / scale, k, dof) : p_value(chi2, k);
  }
};

}  // namespace

double SpotShift::at(const NodeGap& node) const {
  return node.direction.dot(offset * axis + tilt.cross(node.mid - pivot));
}

SpotShift cavity::spot_shift(const Sheet& sheet, const GapMap& map, const std::vector<SpotReading>& readings) {
  const auto read = beside_map(sheet, map, readings);
  SpotShift out;
  out.readings = int(read.size());
  if (read.size() < kEnoughForShift) return out;
  const Motion f = motion_sought(sheet, map, read);
  out.axis = f.axis, out.pivot = f.pivot;
  const Equations e = equations(read, f, map);
  // Stands where tilts that are not sought leave nothing, so that what is sought can be solved for.
  const Eigen::Matrix3d unsought = Vec3(0, f.m == 1, f.m == 1).asDiagonal();
  const Eigen::Matrix3d regular = e.normal + unsought;
  if (!(regular(0, 0) > 0 && regular.topLeftCorner<2, 2>().determinant() > 0 && regular.determinant() > 0))
    return out;  // all on steep walls
  out.parameters = f.m;
  Eigen::Matrix3d covariance = regular.inverse();
  if (f.m == 1) covariance.bottomRightCorner<2, 2>().setZero();
  const Vec3 theta = covariance * e.rhs;
  out.offset = theta(0);
  out.offset_U = map.coverage * std::sqrt(covariance(0, 0));
  if (f.m == 3) out.tilt = theta(1) * f.u + theta(2) * f.v;

  out.chi2 = theta.dot(e.normal * theta);
  for (std::size_t k = 0; k < e.rows.size(); ++k) out.residual_chi2 += std::pow(e.d[k] - e.rows[k].dot(theta), 2);
  const double dof = double(read.size()) - f.m, scale = std::max(1.0, out.residual_chi2 / dof);
  const ChanceOf chance{scale, dof};
  out.p = chance(out.chi2, f.m);
  if (f.m == 3) {
    const Eigen::Vector2d t = theta.tail<2>();
    const Eigen::Matrix2d c = covariance.bottomRightCorner<2, 2>();
    out.p_tilt = chance(t.dot(c.inverse() * t), 2);
  }
  out.covariance = scale * in_tool_axes(covariance, f);
  const Eigen::Matrix3d all = with_common_parts(scale * covariance, covariance, e, map.registration) + unsought;
  // Here the parameters' own covariance is scaled already.
  const double beyond = theta.dot(all.inverse() * theta);
  out.p_beyond = scale > 1 ? f_beyond(beyond / f.m, f.m, dof) : p_value(beyond, f.m);
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
