// What is not known of gap and glass, drawn at random: for the fillings of a report and of a diagnosis alike.
#pragma once
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/laminate.hpp"

namespace gapfront {

namespace flow {
/// Relative standard uncertainty of the permeability: the largest that a ply gives, `otherwise` where none does.
double permeability_spread(const LaminateOptions&, double otherwise);
}  // namespace flow

/// One draw: what is added to the gap (mm per node; nothing where it is not measured), and the factor on the
/// permeability.
struct Draw {
  std::vector<double> gap, reinforcement;
};

/// How the permeability scatters over the sheet.
struct ScatterModel {
  double spread = 0;  ///< relative standard uncertainty
  double length = 0;  ///< over which it is alike, mm
};

/// Draws by number: the same number gives the same draw, on every number of threads.
class Draws {
 public:
  /// Registration, instrument and temperature move the whole gap together (as the gap's U takes them: one rigid motion,
  /// one offset), the local fits move each place by itself; the permeability scatters as the model says. Sheet and map
  /// must outlive it.
  Draws(const Sheet&, const GapMap&, const ScatterModel&, unsigned seed);
  Draw operator()(unsigned number) const;  ///< any number, in any order

 private:
  const Sheet& sheet_;
  const GapMap& map_;
  double spread_, length_;
  unsigned seed_;
  std::vector<std::vector<int>> near_;
  Matrix6 motion_;  ///< times six normal numbers: a motion of the registration's covariance
};

namespace flow {
/// Multiplies each node's conductance by its factor, through the glass only: an open channel has no scatter.
void scatter_reinforcement(LaminateMap&, const std::vector<double>& factor);
}  // namespace flow

}  // namespace gapfront
