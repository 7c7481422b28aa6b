#include "align/shared_noise.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <array>
#include <cmath>
#include <limits>

#include "core/parallel.hpp"

namespace gapfront::align {
namespace {

// Points looked at on one ball: 1.5 mm apart on the upper half of one of 20 mm, and 31,000 pairs.
constexpr std::size_t kLookedAtOnBall = 250;
constexpr std::size_t kFewestBalls = 4;
// Ends of the bins of distance, mm; the first holds each point with itself.
constexpr std::array<double, 10> kBins{1e-9, 1, 2, 3, 4.5, 6.5, 9, 12, 16, 22};
constexpr std::size_t kBinCount = kBins.size();
// Lengths tried, mm. Farther than the size of a ball nothing more can be told from the balls.
constexpr std::array<double, 11> kLengths{0.7, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24};
// Shared errors are told when their variance is so many standard errors, of independent ones, above nothing (eleven
// lengths are tried), and when they are a quarter of the scatter: below it they would widen U by less than it is known
// to.
constexpr double kSureBy = 4, kWorthTelling = 0.25;

using Bins = std::array<double, kBinCount>;

/// Sums over the pairs of one ball, by distance: of products of residuals, of what one unit of independent variance and
/// one unit of shared variance of each length make of them, and how many there are.
struct BallSums {
  Bins products{}, independent{}, count{};
  std::array<Bins, kLengths.size()> shared{};
};

BallPoints thinned_ball(const BallPoints& ball) {
  BallPoints out{{}, ball.radius};
  const std::size_t n = ball.from_centre.size(), kept = std::min(n, kLookedAtOnBall);
  for (std::size_t i = 0; i < kept; ++i) out.from_centre.push_back(ball.from_centre[i * n / kept]);
  return out;
}

/// Orthonormal columns that span what a shift of the centre does to the residuals.
Eigen::MatrixX3d shifts_of(const BallPoints& ball) {
  Eigen::MatrixX3d j(ball.from_centre.size(), 3);
  for (Eigen::Index i = 0; i < j.rows(); ++i) j.row(i) = ball.from_centre[i].normalized();
  const Eigen::Matrix3d gram = j.transpose() * j;
  const Eigen::LLT<Eigen::Matrix3d> root(gram);
  return root.matrixL().solve(j.transpose()).transpose();
}

double alike_at(double d2, double length) { return std::exp(-0.5 * d2 / (length * length)); }

/// (I − QQᵀ) R (I − QQᵀ), the covariance that is left of R when the centre is fitted.
Eigen::MatrixXd left_of(const Eigen::MatrixXd& r, const Eigen::MatrixX3d& q) {
  const Eigen::MatrixX3d rq = r * q;
  const Eigen::Matrix3d qrq = q.transpose() * rq;
  return r - rq * q.transpose() - q * rq.transpose() + q * qrq * q.transpose();
}

BallSums sums_of(const BallPoints& all) {
  const BallPoints ball = thinned_ball(all);
  const auto n = static_cast<Eigen::Index>(ball.from_centre.size());
  const Eigen::MatrixX3d q = shifts_of(ball);
  Eigen::VectorXd residual(n);
  Eigen::MatrixXd d2(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    residual(i) = ball.from_centre[i].norm() - ball.radius;
    for (Eigen::Index k = 0; k < n; ++k) d2(i, k) = (ball.from_centre[i] - ball.from_centre[k]).squaredNorm();
  }
  residual -= q * (q.transpose() * residual);  // thinned, the centre is another one by a little
  BallSums out;
  const auto add = [&](Bins& bins, const Eigen::MatrixXd& value) {
    for (Eigen::Index i = 0; i < n; ++i)
      for (Eigen::Index k = 0; k <= i; ++k) {
        std::size_t bin = 0;
        while (bin < kBinCount && d2(i, k) > kBins[bin] * kBins[bin]) ++bin;
        if (bin < kBinCount) bins[bin] += value(i, k);
      }
  };
  add(out.products, residual * residual.transpose());
  add(out.count, Eigen::MatrixXd::Ones(n, n));
  add(out.independent, Eigen::MatrixXd::Identity(n, n) - q * q.transpose());
  for (std::size_t l = 0; l < kLengths.size(); ++l)
    add(out.shared[l], left_of(d2.unaryExpr([&](double x) { return alike_at(x, kLengths[l]); }), q));
  return out;
}

struct TwoVariances {
  double independent = 0, shared = 0, misfit = 0;
};

/// Weighted least squares on the bins; a variance is not negative.
TwoVariances fit_variances(const BallSums& s, std::size_t length) {
  double aa = 0, ab = 0, bb = 0, ay = 0, by = 0, yy = 0;
  for (std::size_t k = 0; k < kBinCount; ++k) {
    if (!(s.count[k] > 0)) continue;
    const double w = 1 / s.count[k], a = s.independent[k], b = s.shared[length][k], y = s.products[k];
    aa += w * a * a, ab += w * a * b, bb += w * b * b, ay += w * a * y, by += w * b * y, yy += w * y * y;
  }
  const double det = aa * bb - ab * ab;
  TwoVariances out;
  if (det > 1e-12 * aa * bb) out.independent = (bb * ay - ab * by) / det, out.shared = (aa * by - ab * ay) / det;
  if (out.shared <= 0) out.shared = 0, out.independent = aa > 0 ? ay / aa : 0;
  if (out.independent < 0) out.independent = 0, out.shared = bb > 0 ? std::max(0.0, by / bb) : 0;
  out.misfit = yy - 2 * (out.independent * ay + out.shared * by) + out.independent * out.independent * aa +
               2 * out.independent * out.shared * ab + out.shared * out.shared * bb;
  return out;
}

BallSums together(const std::vector<BallSums>& balls) {
  BallSums out;
  for (const BallSums& s : balls)
    for (std::size_t k = 0; k < kBinCount; ++k) {
      out.products[k] += s.products[k], out.independent[k] += s.independent[k], out.count[k] += s.count[k];
      for (std::size_t l = 0; l < kLengths.size(); ++l) out.shared[l][k] += s.shared[l][k];
    }
  return out;
}

/// Standard error of the shared variance where all errors are independent, of variance `whole`: a least-squares sum of
/// products of residuals, each of which has the variance whole².
double null_error(const BallSums& s, std::size_t length, double whole) {
  double bb = 0;
  for (std::size_t k = 1; k < kBinCount; ++k)
    if (s.count[k] > 0) bb += s.shared[length][k] * s.shared[length][k] / s.count[k];
  return bb > 0 ? whole / std::sqrt(bb) : std::numeric_limits<double>::infinity();
}

}  // namespace

SharedNoise shared_noise(const std::vector<BallPoints>& balls) {
  if (balls.size() < kFewestBalls) return {};
  std::vector<BallSums> each(balls.size());
  parallel_for(
      balls.size(), [&](std::size_t i) { each[i] = sums_of(balls[i]); }, 1);
  const BallSums all = together(each);
  std::size_t best = 0;
  TwoVariances v = fit_variances(all, 0);
  for (std::size_t l = 1; l < kLengths.size(); ++l)
    if (const TwoVariances other = fit_variances(all, l); other.misfit < v.misfit) v = other, best = l;
  const double whole = all.count[0] > 0 ? all.products[0] / all.count[0] : 0;
  if (!(v.shared > kSureBy * null_error(all, best, whole)) || v.shared < kWorthTelling * kWorthTelling * whole)
    return {};
  return {std::sqrt(v.shared), kLengths[best]};
}

Eigen::Matrix3d shared_covariance(const BallPoints& all, const SharedNoise& noise) {
  if (!(noise.sigma > 0) || all.from_centre.size() < 4) return Eigen::Matrix3d::Zero();
  const BallPoints ball = thinned_ball(all);
  const auto n = static_cast<Eigen::Index>(ball.from_centre.size());
  Eigen::MatrixX3d j(n, 3);
  for (Eigen::Index i = 0; i < n; ++i) j.row(i) = ball.from_centre[i].normalized();
  Eigen::Matrix3d middle = Eigen::Matrix3d::Zero();
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index k = 0; k < n; ++k)
      middle += alike_at((ball.from_centre[i] - ball.from_centre[k]).squaredNorm(), noise.length) *
                j.row(i).transpose() * j.row(k);
  const Eigen::Matrix3d inverse = (j.transpose() * j).inverse();
  return noise.sigma * noise.sigma * inverse * middle * inverse;
}

}  // namespace gapfront::align
