#include "core/rigid_motion.hpp"

#include <Eigen/LU>
#include <Eigen/SVD>
#include <cmath>

#include "core/linear.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

Eigen::Matrix3d cross_matrix(const Vec3& v) {
  Eigen::Matrix3d m;
  m << 0, -v.z(), v.y(), v.z(), 0, -v.x(), -v.y(), v.x(), 0;
  return m;
}

Eigen::Matrix3d pair_weight(const Pair& pair, const Rigid& motion) {
  return (motion.linear() * pair.from_cov * motion.linear().transpose() + pair.to_cov).inverse();
}

}  // namespace

Rigid small_motion(const Vector6& tr, const Vec3& pivot) {
  const Vec3 r = tr.tail<3>();
  Rigid m = Rigid::Identity();
  if (const double angle = r.norm(); angle > 0) m.linear() = Eigen::AngleAxisd(angle, r / angle).toRotationMatrix();
  m.translation() = pivot + tr.head<3>() - m.linear() * pivot;
  return m;
}

Vector6 motion_about(const Rigid& motion, const Vec3& pivot) {
  const Eigen::AngleAxisd turn(motion.linear());
  Vector6 tr;
  tr << motion * pivot - pivot, turn.angle() * turn.axis();
  return tr;
}

Eigen::Matrix<double, 3, 6> motion_jacobian(const Vec3& x, const Vec3& pivot) {
  Eigen::Matrix<double, 3, 6> j;
  j << Eigen::Matrix3d::Identity(), -cross_matrix(x - pivot);
  return j;
}

Matrix6 move_pivot(const Matrix6& covariance, const Vec3& from, const Vec3& to) {
  // The same motion seen from the other pivot moves it by t + r × (to − from).
  Matrix6 a = Matrix6::Identity();
  a.topRows<3>() = motion_jacobian(to, from);
  return a * covariance * a.transpose();
}

Rigid fit_rigid(const std::vector<Vec3>& from, const std::vector<Vec3>& to, const std::vector<double>& weights) {
  const std::size_t n = from.size();
  if (n != to.size() || (!weights.empty() && weights.size() != n))
    throw Error(Fault::input, "rigid fit: the two lists and the weights differ in length; give one partner per point");
  if (n < 3) throw Error(Fault::measurement, "rigid fit: fewer than 3 points leave it free to turn; give at least 3");
  const auto weight = [&](std::size_t i) { return weights.empty() ? 1.0 : weights[i]; };
  double sum = 0;
  Vec3 a = Vec3::Zero(), b = Vec3::Zero();
  for (std::size_t i = 0; i < n; ++i) sum += weight(i), a += weight(i) * from[i], b += weight(i) * to[i];
  a /= sum, b /= sum;
  Eigen::Matrix3d h = Eigen::Matrix3d::Zero();
  for (std::size_t i = 0; i < n; ++i) h += weight(i) * (to[i] - b) * (from[i] - a).transpose();
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(h, Eigen::ComputeFullU | Eigen::ComputeFullV);
  Vec3 sign = Vec3::Ones();
  if (svd.matrixU().determinant() * svd.matrixV().determinant() < 0) sign.z() = -1;  // else a mirror image fits best
  Rigid m = Rigid::Identity();
  m.linear() = svd.matrixU() * sign.asDiagonal() * svd.matrixV().transpose();
  m.translation() = b - m.linear() * a;
  return m;
}

PairFit fit_pairs(const std::vector<Pair>& pairs) {
  std::vector<Vec3> from, to;
  std::vector<double> weights;
  PairFit fit;
  for (const Pair& p : pairs) {
    from.push_back(p.from);
    to.push_back(p.to);
    weights.push_back(3 / (p.from_cov.trace() + p.to_cov.trace()));
    fit.pivot += p.to / pairs.size();
  }
  fit.motion = fit_rigid(from, to, weights);
  // Gauss–Newton from the isotropic answer converges quadratically; 20 rounds are never reached in practice.
  for (int round = 0; round < 20 && !fit.converged; ++round) {
    Matrix6 normal = Matrix6::Zero();
    Vector6 rhs = Vector6::Zero();
    fit.chi2 = 0;
    for (const Pair& p : pairs) {
      const Vec3 x = fit.motion * p.from, miss = p.to - x;
      const auto j = motion_jacobian(x, fit.pivot);
      const Eigen::Matrix3d w = pair_weight(p, fit.motion);
      normal += j.transpose() * w * j;
      rhs += j.transpose() * w * miss;
      fit.chi2 += miss.dot(w * miss);
    }
    fit.information = normal;
    const Vector6 step = solve_symmetric(normal, rhs);
    fit.motion = small_motion(step, fit.pivot) * fit.motion;
    // In units of its own uncertainty: a billionth of a standard deviation is nothing.
    fit.converged = step.dot(normal * step) < 1e-18;
  }
  // Products of rotations drift off orthogonal by rounding; the nearest rotation mends that.
  fit.motion.linear() = Eigen::Quaterniond(fit.motion.linear()).normalized().toRotationMatrix();
  return fit;
}

ScaleFit apparent_scale(const std::vector<Pair>& pairs, const PairFit& fit) {
  using Matrix7 = Eigen::Matrix<double, 7, 7>;
  Matrix7 normal = Matrix7::Zero();
  Eigen::Matrix<double, 7, 1> rhs = Eigen::Matrix<double, 7, 1>::Zero();
  for (const Pair& p : pairs) {
    const Vec3 x = fit.motion * p.from;
    Eigen::Matrix<double, 3, 7> j;
    j << motion_jacobian(x, fit.pivot), x - fit.pivot;
    const Eigen::Matrix3d w = pair_weight(p, fit.motion);
    normal += j.transpose() * w * j;
    rhs += j.transpose() * w * (p.to - x);
  }
  // The unknown is what `from` must be stretched by, so `from` is that much too small.
  const Matrix7 inverse = inverse_of(Eigen::MatrixXd(normal));
  const double stretch = (inverse * rhs)(6);
  return {1 / (1 + stretch) - 1, std::sqrt(inverse(6, 6)), std::max(0.0, fit.chi2 - rhs.dot(inverse * rhs))};
}

}  // namespace gapfront
