// The uncertainty of a sum over nodes: the one place where means of gaps get their U, whoever takes them (budget of the
// whole, zones, regions, the rigid part, a prediction's test, a re-check).
#pragma once
#include <limits>
#include <utility>
#include <vector>

#include "gapfront/sheet.hpp"

namespace gapfront {

/// Change of the gap at a node per unit of the upper half's motion (tx, ty, tz, rx, ry, rz) about the map's pivot.
Vector6 registration_row(const Sheet&, const GapMap&, int node);

/// How alike the noise of two fits is whose feet lie `distance` apart, both with that `fit_area`: they share points.
double fit_correlation(double distance, double fit_area);

/// Which nodes' fits share points, in rows: on fine meshes there are hundreds in each.
struct SharedFits {
  std::vector<std::size_t> start;  ///< per node, into the others; one more than nodes
  std::vector<int> node;           ///< of each node those after it, ascending
  std::vector<float> rho;          ///< correlation of the noise of the two
  bool empty() const { return node.empty(); }
  /// Calls f(j, rho) for the nodes after i that share points with it.
  template <class F>
  void after(std::size_t i, F&& f) const {
    for (std::size_t k = start[i]; k < start[i + 1]; ++k) f(static_cast<std::size_t>(node[k]), double(rho[k]));
  }
  std::size_t nodes() const { return start.empty() ? 0 : start.size() - 1; }
};
/// All of them on the sheet that lie no farther apart than `within`, mm. Nodes without a fit area (a history of before
/// it was kept) share nothing.
SharedFits shared_fits(const Sheet&, const GapMap&, double within = std::numeric_limits<double>::infinity());

/// What Σ h·gap over the nodes may be off by, cause by cause; h per node, nodes that are not measured have no say.
struct SumErrors {
  double lower = 0, upper = 0;             ///< standard uncertainties by the fits, mm
  double instrument = 0, temperature = 0;  ///< of what is common to all nodes, and of the map's shapes
  double registration = 0;                 ///< standard uncertainty, mm
  double fits() const;                     ///< lower and upper together
  double common() const;                   ///< all that does not shrink with the number of nodes
  double u() const;                        ///< all of it
};
SumErrors sum_errors(const Sheet&, const GapMap&, const SharedFits&, const std::vector<double>& h);

/// h of the mean over the nodes by area (those not measured are left out), as long as the sheet; zeros where no node
/// is measured.
std::vector<double> mean_weights(const Sheet&, const GapMap&, const std::vector<int>& nodes);

}  // namespace gapfront
