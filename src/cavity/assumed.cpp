// The gap that a filling takes where none was measured, and how far off that may be.
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <array>
#include <cmath>

#include "core/neighbours.hpp"
#include "core/point_tree.hpp"
#include "gapfront/cavity.hpp"

namespace gapfront {
namespace {

// Measured nodes that are compared with all others: the mean square difference is then known to some 5 %.
constexpr std::size_t kCompared = 200;
// Steps of distance at which it is taken.
constexpr std::size_t kSteps = 8;

/// The membrane between the measured nodes: each of the others is the mean of its neighbours, the near ones weighing
/// more. What no measured node borders on keeps 0.
void stretch(const Sheet& sheet, const std::vector<char>& known, std::vector<double>& value) {
  const auto around = neighbours(sheet.mesh);
  std::vector<int> row(sheet.size(), -1), open;
  // From the measured nodes on, so that a part without any stays out of the matrix, which would be singular.
  std::vector<int> front;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (known[i]) front.push_back(int(i));
  while (!front.empty()) {
    const int i = front.back();
    front.pop_back();
    for (const int j : around[i])
      if (!known[j] && row[j] < 0) row[j] = int(open.size()), open.push_back(j), front.push_back(j);
  }
  if (open.empty()) return;
  std::vector<Eigen::Triplet<double>> entries;
  Eigen::VectorXd right = Eigen::VectorXd::Zero(Eigen::Index(open.size()));
  for (std::size_t k = 0; k < open.size(); ++k) {
    double sum = 0;
    for (const int j : around[open[k]]) {
      const double weight = 1 / (sheet.mesh.points[j] - sheet.mesh.points[open[k]]).norm();
      sum += weight;
      if (known[j])
        right[Eigen::Index(k)] += weight * value[j];
      else
        entries.emplace_back(int(k), row[j], -weight);
    }
    entries.emplace_back(int(k), int(k), sum);
  }
  Eigen::SparseMatrix<double> matrix(right.size(), right.size());
  matrix.setFromTriplets(entries.begin(), entries.end());
  const Eigen::VectorXd found = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>(matrix).solve(right);
  for (std::size_t k = 0; k < open.size(); ++k) value[open[k]] = found[Eigen::Index(k)];
}

/// How much measured deviations differ over a distance (root mean square), at steps of `far`/kSteps. No less farther
/// away than nearer.
std::array<double, kSteps> differences(const Sheet& sheet, const std::vector<int>& measured,
                                       const std::vector<double>& deviation, double far) {
  std::array<double, kSteps> square{}, out{};
  std::array<int, kSteps> count{};
  const std::size_t every = std::max<std::size_t>(1, measured.size() / kCompared);
  for (std::size_t a = 0; a < measured.size(); a += every)
    for (const int j : measured) {
      const double d = (sheet.mesh.points[measured[a]] - sheet.mesh.points[j]).norm();
      if (d >= far || j == measured[a]) continue;
      const auto k = std::min(kSteps - 1, static_cast<std::size_t>(d / far * kSteps));
      square[k] += std::pow(deviation[measured[a]] - deviation[j], 2), ++count[k];
    }
  for (std::size_t k = 0; k < kSteps; ++k) {
    if (count[k] > 0) out[k] = std::sqrt(square[k] / count[k]);
    if (k > 0) out[k] = std::max(out[k], out[k - 1]);
  }
  // Nearer than the nodes are to each other there are no pairs: as from one node to the next.
  for (std::size_t k = kSteps - 1; k-- > 0;)
    if (count[k] == 0 && out[k] == 0) out[k] = out[k + 1];
  return out;
}

}  // namespace

AssumedGap cavity::assume_gap(const Sheet& sheet, const GapMap& map, const std::vector<double>& nominal) {
  AssumedGap out{nominal, {}, 0};
  std::vector<char> known(sheet.size());
  std::vector<double> deviation(sheet.size(), 0);
  std::vector<int> measured;
  std::vector<Vec3> points;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!(known[i] = map.nodes[i].measured)) continue;
    out.gap[i] = map.nodes[i].gap, deviation[i] = out.gap[i] - nominal[i];
    measured.push_back(int(i)), points.push_back(sheet.mesh.points[i]);
  }
  if (measured.empty() || measured.size() == sheet.size()) return out;
  stretch(sheet, known, deviation);
  out.u.assign(sheet.size(), 0);
  const PointTree tree(points);
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (!known[i]) {
      out.gap[i] = nominal[i] + deviation[i];
      out.u[i] = std::sqrt(tree.nearest(sheet.mesh.points[i], 1e9).second);
      out.length = std::max(out.length, out.u[i]);
    }
  const auto differ = differences(sheet, measured, deviation, out.length * (1 + 1e-9));
  for (double& u : out.u) {
    if (!(u > 0)) continue;
    const double at = u / out.length * kSteps + 0.5;  // whole at the steps' middles
    const auto k = std::min(kSteps, static_cast<std::size_t>(at));
    const double low = differ[std::max<std::size_t>(k, 1) - 1], high = differ[std::min(k, kSteps - 1)];
    u = low + (high - low) * (at - double(k));
  }
  return out;
}

}  // namespace gapfront
