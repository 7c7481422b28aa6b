#include "history/peak.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "core/linear.hpp"

namespace gapfront::history {
namespace {

// The top is sought over this share of the place's radius: enough nodes, and clear of the foot.
constexpr double kReach = 0.7;
// A place that is wider than this need not be one hill: of a plateau the whole would make a dome (6 % too low), and so
// far around the top noise has nothing more to say. mm.
constexpr double kWidest = 50;
// Where the top is, and how it bends which way, says a quadric. How high it is, says a polynomial with a term of fourth
// order in the same metric: wear is flatter at the foot than a quadric, which takes that for a lower top (over a share
// a of the radius of the wear shape (1 − r²)² by a⁴/6, 2 % at 0.6). That shape is met exactly, and a Gaussian, whose
// place ends at 1.95 σ (15 %), to 0.7 %: what its sixth order makes at 1.4 σ. The two fits need half as many nodes
// again as they have terms, six and seven.
constexpr std::size_t kBentNodes = 9, kWholeNodes = 11;
// A fit whose top lies farther off than half its reach is held from one side only: it is made again around there. Four
// steps of half a reach go twice the reach, which is across the place.
constexpr double kTopWithin = 0.5;
constexpr int kSteps = 4;

/// Least squares of a field by a polynomial on the tangent plane at a place, in lengths of its reach.
struct LocalFit {
  double reach = 0;
  std::vector<int> nodes;  ///< none: too few
  Eigen::MatrixXd terms;
  Eigen::VectorXd q;  ///< 1, x, y, x², xy, y², and (vᵀ m v)² when a metric m was given
  Eigen::Matrix2d bend = Eigen::Matrix2d::Zero();
  Vec3 e1, e2;

  bool has_top() const { return bend.determinant() > 0 && bend(0, 0) < 0; }
  Eigen::Vector2d top() const { return -bend.inverse() * Eigen::Vector2d(q[1], q[2]); }
};

LocalFit fit_near(const Sheet& sheet, const Drift& d, const Vec3& at, const Vec3& n, double sign, double reach,
                  std::size_t fewest, const Eigen::Matrix2d* metric) {
  LocalFit fit;
  fit.e1 = n.unitOrthogonal(), fit.e2 = n.cross(fit.e1);
  std::vector<std::pair<double, int>> near;
  for (int i = 0; i < static_cast<int>(sheet.size()); ++i)
    if (d.map.nodes[i].measured && sheet.normals[i].dot(n) > 0) near.push_back({(sheet.mesh.points[i] - at).norm(), i});
  std::sort(near.begin(), near.end());
  std::size_t count = 0;
  while (count < near.size() && (near[count].first <= reach || count < fewest)) ++count;
  if (count < fewest) return fit;
  fit.reach = std::max(near[count - 1].first, 1e-9);
  fit.terms.resize(count, metric ? 7 : 6);
  Eigen::VectorXd f(count);
  for (std::size_t k = 0; k < count; ++k) {
    const Vec3 r = (sheet.mesh.points[near[k].second] - at) / fit.reach;
    const Eigen::Vector2d v(r.dot(fit.e1), r.dot(fit.e2));
    fit.terms.row(k).head<6>() << 1, v.x(), v.y(), v.x() * v.x(), v.x() * v.y(), v.y() * v.y();
    if (metric) fit.terms(k, 6) = std::pow(v.dot(*metric * v), 2);
    f[k] = sign * d.rest[near[k].second];
    fit.nodes.push_back(near[k].second);
  }
  fit.q =
      solve_symmetric(Eigen::MatrixXd(fit.terms.transpose() * fit.terms), Eigen::VectorXd(fit.terms.transpose() * f));
  fit.bend << 2 * fit.q[3], fit.q[4], fit.q[4], 2 * fit.q[5];
  return fit;
}

}  // namespace

Peak peak_near(const Sheet& sheet, const Drift& d, int top, double sign, double radius) {
  const double reach = kReach * std::min(radius, kWidest);
  const Vec3 n = sheet.normals[top];
  Vec3 at = sheet.mesh.points[top];
  Peak out{at, {{top, 1.0}}};
  LocalFit fit;
  for (int step = 0; step <= kSteps; ++step) {
    fit = fit_near(sheet, d, at, n, sign, reach, kBentNodes, nullptr);
    if (fit.nodes.empty()) return out;
    if (!fit.has_top() || step == kSteps) break;
    Eigen::Vector2d v = fit.top();
    const bool within = v.norm() <= kTopWithin;
    if (!within) v *= kTopWithin / v.norm();
    at += fit.reach * (v.x() * fit.e1 + v.y() * fit.e2);
    if (within) break;
  }
  if (fit.has_top()) {
    const Eigen::Matrix2d metric = fit.bend / fit.bend.norm();
    const LocalFit whole = fit_near(sheet, d, at, n, sign, reach, kWholeNodes, &metric);
    fit = whole.nodes.empty() ? fit_near(sheet, d, at, n, sign, reach, kBentNodes, nullptr) : whole;
  }
  Eigen::VectorXd there = Eigen::VectorXd::Zero(fit.terms.cols());
  there[0] = 1;
  const Eigen::VectorXd h = fit.terms * solve_symmetric(Eigen::MatrixXd(fit.terms.transpose() * fit.terms), there);
  out = {at, {}};
  for (std::size_t k = 0; k < fit.nodes.size(); ++k) out.weights.push_back({fit.nodes[k], h[k]});
  return out;
}

}  // namespace gapfront::history
