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
  /// Whether the other gives the same draws: of the same sheet and gap, by the same model and seed.
  bool same_as(const Draws&) const;
  std::size_t bytes() const { return 2 * sizeof(double) * sheet_.size(); }  ///< of a draw

 private:
  const Sheet& sheet_;
  const GapMap& map_;
  double spread_, length_;
  unsigned seed_;
  std::vector<std::vector<int>> near_;
  Matrix6 motion_;  ///< times six normal numbers: a motion of the registration's covariance
};

/// The first draws, kept for states that are compared by the same ones: to draw one costs a tenth of a filling.
class KeptDraws {
 public:
  /// No more of them than fit into 64 MB: what is not kept is drawn when it is asked for.
  KeptDraws(Draws, int count);
  /// Whether draw `number` is kept, and is one of these draws.
  bool has(int number, const Draws& of) const;
  /// One that is kept.
  const Draw& operator[](int number) const { return kept_[static_cast<std::size_t>(number)]; }

 private:
  Draws draws_;
  std::vector<Draw> kept_;
};

namespace flow {
/// Multiplies each node's conductance by its factor, through the glass only: an open channel has no scatter.
void scatter_reinforcement(LaminateMap&, const std::vector<double>& factor);
}  // namespace flow

}  // namespace gapfront
