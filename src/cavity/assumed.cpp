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
// Steps of distance at which it is taken, finer near by.
constexpr std::size_t kSteps = 8;

/// How many steps a distance is.
double steps_of(double distance, double far) { return double(kSteps) * std::sqrt(distance / far); }

/// How much measured deviations differ over a distance (root mean square), up to `far`. No less farther away than
/// nearer.
std::array<double, kSteps> differences(const Sheet& sheet, const std::vector<int>& measured,
                                       const std::vector<double>& deviation, double far) {
  std::array<double, kSteps> square{}, out{};
  std::array<int, kSteps> count{};
  const std::size_t every = std::max<std::size_t>(1, measured.size() / kCompared);
  for (std::size_t a = 0; a < measured.size(); a += every) {
    const int i = measured[a];
    for (const int j : measured) {
      const double d = (sheet.mesh.points[i] - sheet.mesh.points[j]).norm();
      if (d > far || j == i || sheet.normals[i].dot(sheet.normals[j]) <= 0) continue;  // not across a wall
      const auto k = std::min(kSteps - 1, static_cast<std::size_t>(steps_of(d, far)));
      square[k] += std::pow(deviation[i] - deviation[j], 2), ++count[k];
    }
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

std::vector<char> cavity::stretch_over(const Sheet& sheet, const GapMap& map, std::vector<double>& value) {
  const auto around = neighbours(sheet.mesh);
  std::vector<char> has(sheet.size());
  std::vector<int> row(sheet.size(), -1), open, front;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if ((has[i] = map.nodes[i].measured))
      front.push_back(int(i));
    else
      value[i] = 0;
  // From the measured nodes on, so that a part without any stays out of the matrix, which would be singular.
  while (!front.empty()) {
    const int i = front.back();
    front.pop_back();
    for (const int j : around[i])
      if (!has[j]) has[j] = 1, row[j] = int(open.size()), open.push_back(j), front.push_back(j);
  }
  if (open.empty()) return has;
  std::vector<Eigen::Triplet<double>> entries;
  Eigen::VectorXd right = Eigen::VectorXd::Zero(Eigen::Index(open.size()));
  for (std::size_t k = 0; k < open.size(); ++k) {
    double sum = 0;
    for (const int j : around[open[k]]) {
      const double weight = 1 / (sheet.mesh.points[j] - sheet.mesh.points[open[k]]).norm();
      sum += weight;
      if (row[j] < 0)
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
  return has;
}

AssumedGap cavity::assume_gap(const Sheet& sheet, const GapMap& map, const std::vector<double>& nominal,
                              const HiddenDefect& hidden) {
  AssumedGap out{nominal, {}, 0};
  std::vector<double> deviation(sheet.size(), 0);
  std::vector<int> measured;
  std::vector<Vec3> points;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!map.nodes[i].measured) continue;
    out.gap[i] = map.nodes[i].gap, deviation[i] = out.gap[i] - nominal[i];
    measured.push_back(int(i)), points.push_back(sheet.mesh.points[i]);
  }
  if (measured.empty() || measured.size() == sheet.size()) return out;
  const auto has = stretch_over(sheet, map, deviation);
  const PointTree tree(points);
  std::vector<double> away(sheet.size(), 0);  // infinity: no measured node in that part of the sheet
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (!map.nodes[i].measured) {
      out.gap[i] = nominal[i] + deviation[i];
      away[i] = has[i] ? std::sqrt(tree.nearest(sheet.mesh.points[i], 1e9).second) : HUGE_VAL;
      if (has[i] && !is_masked(sheet, i)) out.length = std::max(out.length, away[i]);
    }
  if (!(out.length > 0))  // only masked nodes, or whole parts
    for (const double a : away) out.length = std::max(out.length, std::isfinite(a) ? a : sheet.edge_p50);
  const auto differ = differences(sheet, measured, deviation, out.length);
  out.u.assign(sheet.size(), 0);
  for (std::size_t i = 0; i < away.size(); ++i) {
    if (!(away[i] > 0)) continue;
    const double at = std::min(double(kSteps), steps_of(std::min(away[i], out.length), out.length) + 0.5);
    const auto k = static_cast<std::size_t>(at);  // whole at the steps' middles
    const double low = differ[std::max<std::size_t>(k, 1) - 1], high = differ[std::min(k, kSteps - 1)];
    out.u[i] = low + (high - low) * (at - double(k));
    if (!hidden.u.empty() && hidden.across > 0)
      out.u[i] = std::max(out.u[i], hidden.u[i] * std::min(1.0, away[i] / (0.5 * hidden.across)));
  }
  return out;
}

}  // namespace gapfront
