// Judging a place: the mean gap over a disc about it, the uncertainty of that mean, and what proves it in or out.
#pragma once
#include <vector>

#include "gapfront/conformity.hpp"

namespace gapfront::conformity {

/// The disc about each node, and how far the mean over it may be off.
struct Places {
  std::vector<std::size_t> start;  ///< per node, into `node`; one more than nodes
  std::vector<int> node;           ///< of the discs, one after the other; on fine meshes hundreds in each
  std::vector<double> area;        ///< per node: that its gap speaks for, mm²
  std::vector<double> factor;      ///< per disc: one over the area in it, 1/mm²; 0: no gap in it speaks for any
  std::vector<double> u;           ///< standard uncertainty of the mean over the disc, mm; 0 where nothing is measured
  std::vector<double> u_node;      ///< of the gap at the node itself, mm
  std::vector<double> u_fits;      ///< of it, what the fits alone contribute, mm
  DecisionRule rule;
  /// Greatest error of the means over the whole sheet, in standard uncertainties, of each draw, ascending.
  std::vector<double> greatest;

  /// Of node[k] in the mean over the disc; they are 1 in sum.
  double weight(std::size_t disc, std::size_t k) const {
    return factor[disc] > 0 ? factor[disc] * area[static_cast<std::size_t>(node[k])]
                            : 1.0 / static_cast<double>(start[disc + 1] - start[disc]);
  }
};

/// A disc takes in the measured nodes within half of `across` of its middle, on the same wall and under the same zone's
/// limits; at the edge of the sheet it is cut. The rule's factors are simulated (fixed seed, so the same each time).
Places places_on(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, double across);

/// The same by a rule that was simulated before, for a map with the same uncertainties; without `greatest`.
Places places_by(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, const DecisionRule&);

/// Fills u, u_node and u_fits of the discs by the budget of the map: of this measurement, or of another one.
void uncertainties(const Sheet&, const GapMap&, Places&);

struct Decisions {
  std::vector<Conformity> node;
  /// Per node, mm: U of what was judged there, and the U that would just decide it; NaN where nothing is measured.
  std::vector<double> U, deciding_U;
  double consumer_risk = 1, producer_risk = 1;  ///< see Verdict
  DecidingPlace at_low, at_high;
  std::vector<int> small_outside;  ///< nodes provably outside that do not decide, being too small a place
};
Decisions decide_places(const Places&, const Sheet&, const GapMap&, const std::vector<NodeLimits>&);

}  // namespace gapfront::conformity
