// A datum system of plane, line and point, laid on each half by itself; closed, the two are one.
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "align/touched.hpp"
#include "core/linear.hpp"
#include "core/rigid_motion.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "units/digits.hpp"

namespace gapfront::align {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

// What points in a row, a line of no length, or a point in the line's middle leave open: less than this of the size.
constexpr double kNothing = 0.05;

struct Touches {
  std::string name;
  std::vector<Vec3> points;
};

struct HalfDatum {
  Rigid to_frame = Rigid::Identity();
  MatrixXd gain;  ///< 6 × touches: how far the frame moves (t, r about its origin) for 1 mm at each touch
  TouchScatter scatter;
};

const DatumFeature& of_kind(const AlignOptions& o, DatumKind kind) {
  return *std::find_if(o.features.begin(), o.features.end(), [&](const auto& f) { return f.kind == kind; });
}

[[noreturn]] void refuse(const Touches& t, const char* half, const std::string& fault) {
  throw Error(Fault::measurement, "align: feature " + t.name + " of the " + half + " half: " + fault);
}

Touches touches_of(const Scan& scan, const AlignOptions& o, DatumKind kind, const char* half) {
  Touches t{of_kind(o, kind).name, {}};
  t.points = feature_of(scan, t.name, half).points;
  const std::size_t least = kind == DatumKind::plane ? 3 : kind == DatumKind::line ? 2 : 1;
  if (t.points.size() < least)
    refuse(t, half,
           "a " + std::string(least == 3 ? "plane" : "line") + " takes " + std::to_string(least) +
               " points, touched far apart; touch more");
  return t;
}

/// Unit normal of the plane, its sign open.
Vec3 normal_of(const Touches& plane, const char* half) {
  const Vec3 at = middle_of(plane.points);
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Vec3& p : plane.points) scatter += (p - at) * (p - at).transpose();
  const auto axes = spectrum_of(scatter);
  if (axes.eigenvalues()(1) < kNothing * kNothing * axes.eigenvalues()(2))
    refuse(plane, half, "its points lie in a row, and a plane may turn about it; touch one beside the row");
  return axes.eigenvectors().col(0);
}

/// Direction of the line, seen along n, its sign open.
Vec3 direction_of(const Touches& line, const Vec3& n, double size, const char* half) {
  const Vec3 at = middle_of(line.points);
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Vec3& p : line.points) {
    const Vec3 d = p - at, flat = d - n * n.dot(d);
    scatter += flat * flat.transpose();
  }
  const auto axes = spectrum_of(scatter);
  if (axes.eigenvalues()(2) < std::pow(kNothing * size, 2))
    refuse(line, half, "its points are too near each other to say a direction; touch them farther apart");
  const Vec3 x = axes.eigenvectors().col(2);
  return (x - n * n.dot(x)).normalized();
}

/// How the frame answers to an error at each touch, in the order plane, line, point: the plane's least squares give
/// (tz, rx, ry), the line's, with the plane held, (ty, rz), the point tx.
MatrixXd gain_of(const std::vector<Vec3>& plane, const std::vector<Vec3>& line, const std::vector<Vec3>& point) {
  const long a = long(plane.size()), b = long(line.size()), c = long(point.size());
  MatrixXd out = MatrixXd::Zero(6, a + b + c);
  MatrixXd flat(a, 3), straight(b, 2);
  for (long i = 0; i < a; ++i) flat.row(i) << 1, plane[i].y(), -plane[i].x();
  for (long i = 0; i < b; ++i) straight.row(i) << 1, line[i].x();
  const MatrixXd tilt = inverse_of(MatrixXd(flat.transpose() * flat)) * flat.transpose();
  out.row(2).head(a) = tilt.row(0), out.row(3).head(a) = tilt.row(1), out.row(4).head(a) = tilt.row(2);
  // At its height z a touch of the line moves by ty + rz x − rx z, one of the point by tx + ry z − rz y.
  const MatrixXd turn = inverse_of(MatrixXd(straight.transpose() * straight)) * straight.transpose();
  for (const auto& [row, own] : {std::pair{1, 0}, std::pair{5, 1}}) {
    out.row(row).segment(a, b) = turn.row(own);
    for (long i = 0; i < b; ++i) out.row(row) += turn(own, i) * line[i].z() * out.row(3);
  }
  for (long i = 0; i < c; ++i) {
    out(0, a + b + i) += 1 / double(c);
    out.row(0) += (point[i].y() * out.row(5) - point[i].z() * out.row(4)) / double(c);
  }
  return out;
}

TouchScatter scatter_of(const std::vector<Vec3>& plane, const std::vector<Vec3>& line, const std::vector<Vec3>& point) {
  TouchScatter s;
  for (const Vec3& p : plane) s.squares += p.z() * p.z();
  for (const Vec3& p : line) s.squares += p.y() * p.y();
  for (const Vec3& p : point) s.squares += p.x() * p.x();
  s.dof = static_cast<int>(plane.size() + line.size() + point.size()) - 6;
  return s;
}

HalfDatum datum_of(const Scan& scan, const AlignOptions& o, const char* half) {
  const Touches plane = touches_of(scan, o, DatumKind::plane, half), line = touches_of(scan, o, DatumKind::line, half),
                point = touches_of(scan, o, DatumKind::point, half);
  Vec3 low = scan.cloud.points.front(), high = low;
  for (const Vec3& p : scan.cloud.points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double size = (high - low).norm();
  const Vec3 n = normal_of(plane, half), beside = middle_of(line.points), end = middle_of(point.points);
  Vec3 x = direction_of(line, n, size, half), y = n.cross(x);
  // The senses follow from the tool itself, so that nothing has to be touched in an order.
  const double along = x.dot(beside - end), aside = y.dot(middle_of(scan.cloud.points) - beside);
  if (std::abs(along) < kNothing * size)
    refuse(point, half,
           "it lies by the middle of line " + line.name +
               ", and which way the line runs is open; touch the point near one end of the line");
  if (std::abs(aside) < kNothing * size)
    refuse(line, half, "it runs through the middle of the face, and which side is which is open; touch it on one side");
  if (along < 0) x = -x;
  if (aside < 0) y = -y;
  HalfDatum out;
  out.to_frame.linear() << x.transpose(), y.transpose(), x.cross(y).transpose();
  const Vec3 turned = out.to_frame.linear() * end, level = out.to_frame.linear() * middle_of(plane.points);
  out.to_frame.translation() = -Vec3(turned.x(), (out.to_frame.linear() * beside).y(), level.z());
  const auto framed = [&](const Touches& t) {
    std::vector<Vec3> p;
    for (const Vec3& q : t.points) p.push_back(out.to_frame * q);
    return p;
  };
  const auto a = framed(plane), b = framed(line), c = framed(point);
  out.gain = gain_of(a, b, c), out.scatter = scatter_of(a, b, c);
  return out;
}

/// Whether Z leads from the upper half to the lower: seen along it, the upper face lies below.
bool upside_down(const Scan& lower, const Scan& upper, const HalfDatum& low, const HalfDatum& up) {
  const auto some = [](const Scan& s, const Rigid& m, std::size_t most) {
    std::vector<Vec3> out;
    for (std::size_t i = 0, step = s.cloud.points.size() / most + 1; i < s.cloud.points.size(); i += step)
      out.push_back(m * s.cloud.points[i]);
    return out;
  };
  const auto below = some(lower, low.to_frame, 3000);
  std::vector<double> rise;
  for (const Vec3& p : some(upper, up.to_frame, 500)) {
    const auto near = [&](const Vec3& q) { return (q - p).head<2>().squaredNorm(); };
    rise.push_back(p.z() - std::min_element(below.begin(), below.end(), [&](const Vec3& a, const Vec3& b) {
                             return near(a) < near(b);
                           })->z());
  }
  return median(std::move(rise)) < 0;
}

}  // namespace

DatumPose fit_datum(const Scan& lower, const Scan& upper, const AlignOptions& o) {
  HalfDatum low = datum_of(lower, o, "lower"), up = datum_of(upper, o, "upper");
  if (upside_down(lower, upper, low, up)) {
    const Rigid turn(Eigen::AngleAxisd(M_PI, Vec3::UnitX()));
    const Vector6 signs = (Vector6() << 1, -1, -1, 1, -1, -1).finished();
    for (HalfDatum* half : {&low, &up}) {
      half->to_frame = turn * half->to_frame;
      half->gain = signs.asDiagonal() * half->gain;
    }
  }
  DatumPose out;
  const TouchScatter both{low.scatter.squares + up.scatter.squares, low.scatter.dof + up.scatter.dof};
  bool exceeds = false;
  const auto variance = touch_variance(both, o.touch_u, &exceeds);
  if (!variance)
    throw Error(Fault::measurement,
                "align: so few touched points do not say how well they were touched; give touch_u in [align], or touch "
                "four places of the plane, three of the line and two of the end");
  if (exceeds)
    out.warnings.push_back(Message("warnings.datum-touches-scatter",
                                   {arg::length(std::sqrt(both.squares / both.dof), 3), arg::length(*o.touch_u, 3)}));
  out.lower_to_frame = {low.to_frame};
  const Vec3 apart = Vec3::UnitZ() * o.stand_off;
  out.upper_to_frame = Eigen::Translation3d(apart) * up.to_frame;
  const auto covariance = [&](const HalfDatum& half) { return Matrix6(*variance * half.gain * half.gain.transpose()); };
  out.covariance = covariance(low) + move_pivot(covariance(up), apart, Vec3::Zero());
  return out;
}

}  // namespace gapfront::align
