#include "flow/field_modes.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "core/parallel.hpp"

namespace gapfront::flow {
namespace {

// Components that are set: on a panel of 50 L² they are 99 % of the variance, on one of 100 L² (0.25 m² for a hand's
// breadth) 96 %.
constexpr int kModes = 60;
// Twice as many values tell them; nodes from which the places of these are chosen.
constexpr int kPivots = 128;
constexpr std::size_t kChosenFrom = 1024;
// The rest of a variance of 1 that need not be told.
constexpr double kRest = 1e-4;
// Nodes that are worked on at once.
constexpr Eigen::Index kBlock = 512;

double correlation(const Vec3& a, const Vec3& b, double length) {
  return std::exp(-(a - b).squaredNorm() / (2 * length * length));
}

/// Of `all`, each of which counts with its area: as much of the correlation as few of them tell.
struct Factor {
  std::vector<int> pivots;  ///< of `all`
  Eigen::MatrixXd rows;     ///< of each of `all`, over the pivots
};

Factor pivoted_factor(const std::vector<Vec3>& all, double length) {
  const auto n = static_cast<Eigen::Index>(all.size());
  Factor f;
  f.rows = Eigen::MatrixXd::Zero(n, std::min<Eigen::Index>(n, kPivots));
  Eigen::VectorXd left = Eigen::VectorXd::Ones(n);
  for (Eigen::Index k = 0; k < f.rows.cols(); ++k) {
    Eigen::Index pivot = 0;
    if (!(left.maxCoeff(&pivot) > kRest)) break;
    f.pivots.push_back(static_cast<int>(pivot));
    Eigen::VectorXd column = -f.rows.leftCols(k) * f.rows.row(pivot).head(k).transpose();
    for (Eigen::Index i = 0; i < n; ++i)
      column[i] += correlation(all[static_cast<std::size_t>(i)], all[static_cast<std::size_t>(pivot)], length);
    f.rows.col(k) = column / std::sqrt(left[pivot]);
    left -= f.rows.col(k).cwiseAbs2();
  }
  f.rows.conservativeResize(Eigen::NoChange, static_cast<Eigen::Index>(f.pivots.size()));
  return f;
}

}  // namespace

FieldModes::FieldModes(const Sheet& sheet, double length) {
  const auto& points = sheet.mesh.points;
  if (points.empty()) return;
  const std::size_t stride = (points.size() + kChosenFrom - 1) / kChosenFrom;
  std::vector<Vec3> some;
  std::vector<double> area;
  for (std::size_t i = 0; i < points.size(); i += stride) some.push_back(points[i]), area.push_back(sheet.area[i]);
  const Factor f = pivoted_factor(some, length);
  const auto m = static_cast<Eigen::Index>(f.pivots.size()), q = std::min<Eigen::Index>(m, kModes);
  const Eigen::Map<const Eigen::VectorXd> weight(area.data(), static_cast<Eigen::Index>(area.size()));
  // Values at the pivots are the factor's rows there, a triangle, times normal numbers; these are turned so that the
  // first say most of the field.
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> axes(f.rows.transpose() * weight.asDiagonal() * f.rows);
  const Eigen::MatrixXd turned = axes.eigenvectors().rowwise().reverse().leftCols(q).transpose();
  Eigen::MatrixXd triangle(m, m);
  for (Eigen::Index k = 0; k < m; ++k) triangle.row(k) = f.rows.row(f.pivots[static_cast<std::size_t>(k)]);
  by_pivots_ = triangle.triangularView<Eigen::Lower>().solve<Eigen::OnTheRight>(turned);
  for (const int k : f.pivots) pivots_.push_back(static_cast<int>(static_cast<std::size_t>(k) * stride));

  const auto n = static_cast<Eigen::Index>(points.size());
  at_nodes_.resize(q, n);
  parallel_for(
      static_cast<std::size_t>((n + kBlock - 1) / kBlock),
      [&](std::size_t block) {
        const Eigen::Index from = static_cast<Eigen::Index>(block) * kBlock, count = std::min(kBlock, n - from);
        Eigen::MatrixXd to_pivots(m, count);
        for (Eigen::Index i = 0; i < count; ++i)
          for (Eigen::Index k = 0; k < m; ++k)
            to_pivots(k, i) =
                correlation(points[static_cast<std::size_t>(from + i)],
                            points[static_cast<std::size_t>(pivots_[static_cast<std::size_t>(k)])], length);
        at_nodes_.middleCols(from, count) = (by_pivots_ * to_pivots).cast<float>();
      },
      1);
}

void FieldModes::set(std::vector<double>& field, const std::vector<double>& coefficients) const {
  Eigen::VectorXd values(static_cast<Eigen::Index>(pivots_.size()));
  for (Eigen::Index k = 0; k < values.size(); ++k)
    values[k] = field[static_cast<std::size_t>(pivots_[static_cast<std::size_t>(k)])];
  const Eigen::Map<const Eigen::VectorXd> wanted(coefficients.data(), at_nodes_.rows());
  const Eigen::VectorXf change = (wanted - by_pivots_ * values).cast<float>();
  for (std::size_t i = 0; i < field.size(); ++i) field[i] += at_nodes_.col(static_cast<Eigen::Index>(i)).dot(change);
}

}  // namespace gapfront::flow
