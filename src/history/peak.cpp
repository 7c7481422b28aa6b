#include "history/peak.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>

#include "core/linear.hpp"
#include "core/rigid_motion.hpp"

namespace gapfront::history {
namespace {

// The top is sought over this share of the place's radius: enough nodes, and clear of the foot.
constexpr double kReach = 0.7;
// So far around the top of a wider place noise has nothing more to say. mm.
constexpr double kWidest = 50;
// A fit needs half as many nodes again as it has terms.
constexpr std::size_t kBentNodes = 9, kShapeNodes = 11, kSpareNodes = 4;
// A fit whose top lies farther off than half its reach is held from one side only: it is made again around there. Four
// steps of half a reach go twice the reach, which is across the place.
constexpr double kTopWithin = 0.5;
constexpr int kSteps = 4;

/// How high the top is, by its shape. A quadric would take wear that is flatter at the foot for a lower top; a dome has
/// a term of fourth order besides (which meets the wear shape (1 − r²)² exactly), a plateau one of sixth order, a cone
/// goes down at once.
enum class Shape { dome, plateau, cone };
struct Model {
  Shape shape;
  double reach, prior;  ///< share of the whole reach; of likelihood
};
// Narrower reaches see less of what the shape does not meet. Cones are rarer than what rubs itself round (own choice).
constexpr std::array<Model, 8> kModels{{{Shape::dome, 1, 1},
                                        {Shape::dome, 0.72, 1},
                                        {Shape::dome, 0.5, 1},
                                        {Shape::plateau, 1, 1},
                                        {Shape::plateau, 0.72, 1},
                                        {Shape::cone, 1, 0.25},
                                        {Shape::cone, 0.72, 0.25},
                                        {Shape::cone, 0.5, 0.25}}};
// What the shapes miss of others, as a share of the top: a Gaussian 0.7 %. Of a place of few nodes the top may lie
// between them unseen, the more the likelier it is a cone (by simulation of steps, domes and cones of 25 to 90 mm).
constexpr double kTruncation = 0.02, kUnseenNodes = 46, kUnseenMost = 0.6, kUnseenRound = 0.25;

/// Nodes around a place, by distance.
struct Around {
  Vec3 at, e1, e2;
  std::vector<std::pair<double, int>> near;

  Around(const Sheet& sheet, const Drift& d, const Vec3& place, const Vec3& n)
      : at(place), e1(n.unitOrthogonal()), e2(n.cross(e1)) {
    for (int i = 0; i < static_cast<int>(sheet.size()); ++i)
      if (d.map.nodes[i].measured && sheet.normals[i].dot(n) > 0)
        near.push_back({(sheet.mesh.points[i] - at).norm(), i});
    std::sort(near.begin(), near.end());
  }
  std::size_t within(double reach, std::size_t fewest) const {
    std::size_t count = 0;
    while (count < near.size() && (near[count].first <= reach || count < fewest)) ++count;
    return count;
  }
};

/// Least squares of a field over the nearest nodes, on the tangent plane, in lengths of their reach.
struct LocalFit {
  double reach = 0;
  Eigen::MatrixXd terms, inverse;
  Eigen::VectorXd f, q;

  template <class Terms>
  LocalFit(const Sheet& sheet, const Drift& d, const Around& a, std::size_t count, double sign, Terms&& terms_of)
      : reach(std::max(a.near[count - 1].first, 1e-9)), f(count) {
    for (std::size_t k = 0; k < count; ++k) {
      const Vec3 r = (sheet.mesh.points[a.near[k].second] - a.at) / reach;
      const Eigen::RowVectorXd row = terms_of(Eigen::Vector2d(r.dot(a.e1), r.dot(a.e2)));
      if (k == 0) terms.resize(count, row.size());
      terms.row(k) = row, f[k] = sign * d.rest[a.near[k].second];
    }
    q = solve_symmetric(Eigen::MatrixXd(terms.transpose() * terms), Eigen::VectorXd(terms.transpose() * f));
  }
  /// Weights of the value at the middle.
  Eigen::VectorXd at_middle() const {
    Eigen::VectorXd there = Eigen::VectorXd::Zero(terms.cols());
    there[0] = 1;
    return terms * solve_symmetric(Eigen::MatrixXd(terms.transpose() * terms), there);
  }
};

Eigen::RowVectorXd quadric(const Eigen::Vector2d& v) {
  Eigen::RowVectorXd t(6);
  t << 1, v.x(), v.y(), v.x() * v.x(), v.x() * v.y(), v.y() * v.y();
  return t;
}

/// `metric`: how the top bends which way, as a positive form.
Eigen::RowVectorXd terms_of(Shape s, const Eigen::Matrix2d& metric, const Eigen::Vector2d& v) {
  const double rho = v.dot(metric * v);
  if (s == Shape::cone) {
    Eigen::RowVectorXd t(5);
    t << 1, v.x(), v.y(), std::sqrt(std::max(0.0, rho)), rho;
    return t;
  }
  Eigen::RowVectorXd t(s == Shape::dome ? 7 : 8);
  t.head<6>() = quadric(v), t[6] = rho * rho;
  if (s == Shape::plateau) t[7] = rho * rho * rho;
  return t;
}

/// The top and how it bends there, by quadrics; alike all ways where it has none.
struct Top {
  Vec3 at;
  Eigen::Matrix2d metric = Eigen::Matrix2d::Identity() / std::sqrt(2.0);
};
Top find_top(const Sheet& sheet, const Drift& d, const PeakPlace& p, double reach) {
  const Vec3 n = sheet.normals[p.top];
  Top top{sheet.mesh.points[p.top]};
  for (int step = 0; step <= kSteps; ++step) {
    const Around around(sheet, d, top.at, n);
    const std::size_t count = around.within(reach, kBentNodes);
    if (count < kBentNodes) return top;
    const LocalFit fit(sheet, d, around, count, p.sign, quadric);
    Eigen::Matrix2d bend;
    bend << 2 * fit.q[3], fit.q[4], fit.q[4], 2 * fit.q[5];
    const bool has_top = bend.determinant() > 0 && bend(0, 0) < 0;
    if (has_top) top.metric = -bend / bend.norm();
    if (!has_top || step == kSteps) return top;
    Eigen::Vector2d v = -bend.inverse() * Eigen::Vector2d(fit.q[1], fit.q[2]);
    const bool within = v.norm() <= kTopWithin;
    if (!within) v *= kTopWithin / v.norm();
    top.at += fit.reach * (v.x() * around.e1 + v.y() * around.e2);
    if (within) return top;
  }
  return top;
}

constexpr double kLeftOut = 0.75;

/// One shape over one reach.
struct Candidate {
  Shape shape = Shape::dome;
  double value = 0, worth = 0;
  Eigen::VectorXd weights;
};

/// Akaike's criterion, in units of the logarithm of likelihood. Of a node that a narrower reach leaves out half a unit
/// would be no loss, which is what noise leaves of it in the mean, and a whole one as if a term of its own met it: then
/// a foot that no shape meets is kept too long, and a plateau told 4 % too low. Between the two (own choice).
std::vector<Candidate> candidates(const Sheet& sheet, const Drift& d, const PeakPlace& p, const Around& around,
                                  const Eigen::Matrix2d& metric, double reach) {
  std::vector<Candidate> out;
  const std::size_t whole = around.within(reach, kShapeNodes);
  for (const Model& m : kModels) {
    const std::size_t count = around.within(m.reach * reach, kShapeNodes);
    if (count < kShapeNodes) continue;
    const LocalFit fit(sheet, d, around, count, p.sign, [&](const auto& v) { return terms_of(m.shape, metric, v); });
    const auto terms = static_cast<std::size_t>(fit.terms.cols());
    if (count < terms + kSpareNodes) continue;
    Candidate c;
    c.shape = m.shape, c.weights = fit.at_middle(), c.value = c.weights.dot(fit.f);
    const Eigen::VectorXd left = fit.f - fit.terms * fit.q;
    double chi2 = 0;
    for (std::size_t k = 0; k < count; ++k) {
      const NodeGap& n = d.map.nodes[around.near[k].second];
      chi2 += std::pow(left[k] / (p.inflation * std::max(kLeastU, std::hypot(n.u_lower, n.u_upper))), 2);
    }
    c.worth = std::log(m.prior) - 0.5 * chi2 - double(terms) - kLeftOut * double(whole - count);
    out.push_back(std::move(c));
  }
  return out;
}

}  // namespace

double Peak::u_shape(double top) const {
  // The truncation is spread evenly over ± its bound (JCGM 100, 4.3.7).
  return std::hypot(truncation / std::sqrt(3.0), top != 0 ? between / top : 0);
}

Peak peak_near(const Sheet& sheet, const Drift& d, const PeakPlace& p) {
  const double reach = kReach * std::min(p.radius, kWidest);
  const Top top = find_top(sheet, d, p, reach);
  Peak out{top.at, {{p.top, 1.0}}};
  const double unseen = std::min(kUnseenMost, std::pow(kUnseenNodes / std::max<double>(1, double(p.nodes)), 3));
  out.truncation = kTruncation + kUnseenRound * unseen;
  const Around around(sheet, d, top.at, sheet.normals[p.top]);
  const auto all = candidates(sheet, d, p, around, top.metric, reach);
  if (all.empty()) {
    const std::size_t count = around.within(reach, kBentNodes);
    if (count < kBentNodes) return out;
    const Eigen::VectorXd h = LocalFit(sheet, d, around, count, p.sign, quadric).at_middle();
    out.weights.clear();
    for (std::size_t k = 0; k < count; ++k) out.weights.push_back({around.near[k].second, h[k]});
    return out;
  }
  const auto best = std::max_element(all.begin(), all.end(), [](auto& a, auto& b) { return a.worth < b.worth; });
  double sum = 0, cone = 0;
  for (const Candidate& c : all) {
    const double likely = std::exp(c.worth - best->worth);
    sum += likely, cone += c.shape == Shape::cone ? likely : 0;
  }
  cone /= sum;
  // A cone that the field does not tell from a dome would draw the top of every dome up: in the mean it counts by its
  // likelihood twice, in the uncertainty once.
  const auto share = [&](const Candidate& c) {
    return std::exp(c.worth - best->worth) / sum * (c.shape == Shape::cone ? cone : 1);
  };
  double shares = 0, value = 0, variance = 0;
  std::size_t nodes = 0;
  for (const Candidate& c : all)
    shares += share(c), value += share(c) * c.value, nodes = std::max(nodes, std::size_t(c.weights.size()));
  value /= shares;
  Eigen::VectorXd h = Eigen::VectorXd::Zero(Eigen::Index(nodes));
  for (const Candidate& c : all) {
    h.head(c.weights.size()) += share(c) / shares * c.weights;
    variance += std::exp(c.worth - best->worth) / sum * std::pow(c.value - value, 2);
  }
  out.weights.clear();
  for (std::size_t k = 0; k < nodes; ++k) out.weights.push_back({around.near[k].second, h[Eigen::Index(k)]});
  out.between = std::sqrt(variance), out.truncation = kTruncation + unseen * (kUnseenRound + cone);
  return out;
}

}  // namespace gapfront::history
