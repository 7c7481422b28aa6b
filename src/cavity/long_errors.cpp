#include "cavity/long_errors.hpp"

#include <Eigen/Cholesky>
#include <cmath>

#include "core/area_mean.hpp"
#include "core/linear.hpp"

namespace gapfront::cavity {
namespace {

// Anchors of a field: half of L apart the variance of the field between them is known to 1 %; 0.7 L apart to 8 %, and
// that is half of what a sheet that stands on six targets tilts by. Where it takes more than 128, their decomposition
// would take longer than the gap, and what they leave out is shared about each anchor.
constexpr double kAnchorsApart = 0.5;
constexpr std::size_t kMostAnchors = 128;
// Shapes kept of a field: those that hold all but a five-hundredth of its variance, 64 at most.
constexpr double kLeftOut = 0.002;
constexpr Eigen::Index kMostShapes = 64;
// What they leave out counts as common to all nodes where it is less than a fiftieth of the variance.
constexpr double kRestShared = 0.02;
// Of the variance: keeps the matrix of anchors that lie near each other invertible.
constexpr double kJitter = 1e-8;

double alike(const Vec3& a, const Vec3& b, double length) {
  return std::exp(-0.5 * (a - b).squaredNorm() / (length * length));
}

/// Farthest places first, from the first given.
std::vector<Vec3> anchors_among(const std::vector<Vec3>& places, double apart) {
  std::vector<Vec3> out{places.front()};
  std::vector<double> off(places.size(), 1e300);
  while (out.size() < kMostAnchors) {
    std::size_t farthest = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
      off[i] = std::min(off[i], (places[i] - out.back()).norm());
      if (off[i] > off[farthest]) farthest = i;
    }
    if (off[farthest] <= apart) break;
    out.push_back(places[farthest]);
  }
  return out;
}

/// A row per place: the field there in terms of independent standard normal numbers.
Eigen::MatrixXd field_at(const std::vector<Vec3>& places, const std::vector<Vec3>& anchors, const SharedNoise& f) {
  const auto n = Eigen::Index(places.size()), m = Eigen::Index(anchors.size());
  if (n == 0) return Eigen::MatrixXd(0, m);  // Eigen's solver looks at the first of no columns
  Eigen::MatrixXd between(m, m), out(n, m);
  for (Eigen::Index a = 0; a < m; ++a)
    for (Eigen::Index b = 0; b < m; ++b) between(a, b) = alike(anchors[a], anchors[b], f.length) + (a == b) * kJitter;
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index a = 0; a < m; ++a) out(i, a) = alike(places[i], anchors[a], f.length);
  const Eigen::LLT<Eigen::MatrixXd> root(between);
  return f.sigma * root.matrixL().solve(out.transpose()).transpose();
}

struct FieldShapes {
  Eigen::MatrixXd shapes;    ///< a row per place asked for
  Eigen::VectorXd left_out;  ///< variance of each that they do not hold
};

/// A column per anchor: the square root of `variance` at the nodes that are nearest to it.
Eigen::MatrixXd about_anchors(const std::vector<Vec3>& at, const std::vector<Vec3>& anchors,
                              const Eigen::VectorXd& variance) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(Eigen::Index(at.size()), Eigen::Index(anchors.size()));
  for (std::size_t i = 0; i < at.size(); ++i) {
    std::size_t nearest = 0;
    for (std::size_t a = 1; a < anchors.size(); ++a)
      if ((at[i] - anchors[a]).squaredNorm() < (at[i] - anchors[nearest]).squaredNorm()) nearest = a;
    out(Eigen::Index(i), Eigen::Index(nearest)) = std::sqrt(variance[Eigen::Index(i)]);
  }
  return out;
}

/// Of the nodes listed: the gap by the three components of the field there, and by what the registration does.
FieldShapes shapes_of(const Sheet& sheet, const GapMap& map, const std::vector<int>& nodes, const Alignment& a,
                      const SharedNoise& f) {
  std::vector<Vec3> at, rests;
  for (const int i : nodes) at.push_back(sheet.mesh.points[i]);
  for (const Support& s : a.supports) rests.push_back(s.at);
  std::vector<Vec3> all = at;
  all.insert(all.end(), rests.begin(), rests.end());
  const std::vector<Vec3> anchors = anchors_among(all, kAnchorsApart * f.length);
  const Eigen::MatrixXd here = field_at(at, anchors, f), there = field_at(rests, anchors, f);
  const auto n = Eigen::Index(nodes.size()), m = Eigen::Index(anchors.size());
  Eigen::Matrix<double, 6, Eigen::Dynamic> motion = Eigen::Matrix<double, 6, Eigen::Dynamic>::Zero(6, 3 * m);
  for (std::size_t k = 0; k < rests.size(); ++k)
    for (int c = 0; c < 3; ++c)
      motion.middleCols(c * m, m) += a.supports[k].response.col(c) * there.row(Eigen::Index(k));
  Eigen::MatrixXd gap(n, 3 * m);
  FieldShapes out;
  out.left_out.resize(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Vec3& d = map.nodes[nodes[i]].direction;
    for (int c = 0; c < 3; ++c) gap.row(i).segment(c * m, m) = d[c] * here.row(i);
    gap.row(i) += registration_row(sheet, map, nodes[i]).transpose() * motion;
    out.left_out[i] = std::max(0.0, f.sigma * f.sigma - here.row(i).squaredNorm()) + gap.row(i).squaredNorm();
  }
  const auto spectrum = spectrum_of(Eigen::MatrixXd(gap.transpose() * gap));
  const double whole = spectrum.eigenvalues().sum();
  Eigen::Index kept = 0;
  for (double held = 0; kept < std::min(kMostShapes, 3 * m) && held < (1 - kLeftOut) * whole; ++kept)
    held += spectrum.eigenvalues()[3 * m - 1 - kept];
  out.shapes = gap * spectrum.eigenvectors().rightCols(kept);
  out.left_out = (out.left_out - out.shapes.rowwise().squaredNorm()).cwiseMax(0);
  if (out.left_out.sum() > kRestShared * (whole + out.left_out.sum())) {
    const Eigen::MatrixXd rest = about_anchors(at, anchors, out.left_out);
    out.shapes.conservativeResize(n, kept + m);
    out.shapes.rightCols(m) = rest, out.left_out.setZero();
  }
  return out;
}

}  // namespace

void carry_fields(const Sheet& sheet, const Alignment& alignment, GapMap& map) {
  std::vector<int> nodes;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (map.nodes[i].measured) nodes.push_back(int(i));
  if (nodes.empty()) return;
  for (const SharedNoise& f : alignment.fields) {
    if (!(f.sigma > 0) || !(f.length > 0)) continue;
    const FieldShapes s = shapes_of(sheet, map, nodes, alignment, f);
    const Eigen::Index before = map.shapes.cols();
    Eigen::MatrixXd grown = Eigen::MatrixXd::Zero(Eigen::Index(sheet.size()), before + s.shapes.cols());
    if (before > 0) grown.leftCols(before) = map.shapes;
    for (std::size_t k = 0; k < nodes.size(); ++k) {
      const auto row = Eigen::Index(k);
      grown.row(nodes[k]).tail(s.shapes.cols()) = s.shapes.row(row);
      NodeGap& g = map.nodes[nodes[k]];
      const double more = s.shapes.row(row).squaredNorm() + s.left_out[row];
      g.u_instrument = std::hypot(g.u_instrument, std::sqrt(more));
      g.U = std::hypot(g.U, map.coverage * std::sqrt(more));
    }
    map.shapes = std::move(grown);
  }
}

}  // namespace gapfront::cavity
