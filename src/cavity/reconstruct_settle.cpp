// Where the scan ends, and local least-squares projection onto it.
#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include "cavity/reconstruct.hpp"
#include "core/parallel.hpp"

namespace gapfront::cavity {
namespace {

/// Weighted quadric h(u,v) through points near x in the frame of n; moves x to the foot point. False below four points;
/// a plane when there are too few for six coefficients with some to spare.
bool onto_quadric(const std::vector<Vec3>& near, double radius, Vec3& x, Vec3& n) {
  using Vector6d = Eigen::Matrix<double, 6, 1>;
  if (near.size() < 4) return false;
  const Vec3 start = x;
  for (int step = 0; step < 2; ++step) {
    const Vec3 u = n.unitOrthogonal(), v = n.cross(u);
    Eigen::Matrix<double, 6, 6> a = Eigen::Matrix<double, 6, 6>::Zero();
    Vector6d b = Vector6d::Zero();
    for (const Vec3& p : near) {
      const Vec3 d = (p - x) / radius;
      const double r2 = d.squaredNorm();
      const double w = std::exp(-2 * r2), s = d.dot(u), t = d.dot(v);
      Vector6d row;
      row << 1, s, t, s * s, s * t, t * t;
      a.selfadjointView<Eigen::Lower>().rankUpdate(row, w);
      b += w * d.dot(n) * row;
    }
    double height, du, dv;
    // Nine: half as many again as the six coefficients, below which the quadric follows single points.
    Eigen::LDLT<Eigen::Matrix<double, 6, 6>> full(a.selfadjointView<Eigen::Lower>());
    if (near.size() >= 9 && full.vectorD().minCoeff() > 1e-5 * full.vectorD().maxCoeff()) {
      const Vector6d c = full.solve(b);
      height = c[0], du = c[1], dv = c[2];
    } else {
      Eigen::Matrix3d top = a.topLeftCorner<3, 3>().selfadjointView<Eigen::Lower>();
      Eigen::LDLT<Eigen::Matrix3d> plane(top);
      if (plane.vectorD().minCoeff() <= 1e-5 * plane.vectorD().maxCoeff()) return false;
      const Vec3 c = plane.solve(b.head<3>());
      height = c[0], du = c[1], dv = c[2];
    }
    // Newton's step to the foot point on the tangent plane at the axis.
    const Vec3 m = (n - du * u - dv * v).normalized();
    x += radius * height * m.dot(n) * m;
    n = m;
    if ((x - start).norm() > radius) return x = start, false;
  }
  return true;
}

}  // namespace

bool settle(const Samples& s, Vec3& x, Vec3& n) {
  thread_local std::vector<int> found;
  thread_local std::vector<Vec3> near;
  const double radius = 2.3 * s.pitch;  // some 15 samples: a quadric with a few to spare
  s.tree.within(x, radius, found);
  near.clear();
  for (int i : found)
    if (s.normals[i].dot(n) > 0.3) near.push_back(s.tree.points()[i]);
  Vec3 y = x, m = n;
  if (!onto_quadric(near, radius, y, m) || m.dot(n) < 0.5) return false;
  x = y, n = m;
  return true;
}

bool settle_on_scan(const Surface& scan, Vec3& x, Vec3& n, double bend) {
  thread_local std::vector<int> found;
  thread_local std::vector<Vec3> near;
  // Half a radius of curvature keeps the quadric's truncation below the noise; 2.3 to 4 spacings hold 15 to 50 points.
  const double radius = std::clamp(0.5 / std::max(bend, 1e-9), 2.3 * scan.spacing(), 4.0 * scan.spacing());
  scan.within(x, radius, found);
  near.clear();
  for (int i : found)  // steeper points belong to another wall
    if (std::abs((scan.points()[i] - x).dot(n)) < 0.5 * radius) near.push_back(scan.points()[i]);
  Vec3 y = x, m = n;
  if (!onto_quadric(near, radius, y, m) || m.dot(n) < 0.7) return false;
  x = y, n = m;
  return true;
}

std::vector<double> coverage_field(const Samples& s, const Mesh& mesh, const std::vector<Vec3>& normals) {
  std::vector<double> out(mesh.points.size());
  const double radius = 2.5 * s.pitch;
  parallel_for(out.size(), [&](std::size_t i) {
    thread_local std::vector<int> found;
    const Vec3& x = mesh.points[i];
    s.tree.within(x, radius, found);
    Vec3 mean = Vec3::Zero();
    double closest = 1e300;
    int used = 0;
    for (int j : found) {
      if (s.normals[j].dot(normals[i]) < -0.3) continue;  // the far wall of a rib
      const Vec3 d = s.tree.points()[j] - x;
      mean += d, ++used;
      closest = std::min(closest, d.norm());
    }
    if (used == 0) return void(out[i] = 1);
    mean /= used;
    mean -= mean.dot(normals[i]) * normals[i];
    // On a straight edge the samples fill half a disc, whose centroid lies 4/(3π) of its radius off the edge.
    const double lopsided = mean.norm() / radius - 0.4244;
    // A vertex with a sample this close is covered whatever the others do (samples on a corner are one-sided).
    const double near_by = closest / s.pitch - 0.4;
    // And one without any sample within 1.5 pitches is not, whatever the others do.
    const double far_off = closest / s.pitch - 1.5;
    out[i] = std::max(std::min(lopsided, near_by), far_off);
  });
  return out;
}

}  // namespace gapfront::cavity
