// What is not known of gap and glass, drawn at random: for the fillings of a report and of a diagnosis alike.
#pragma once
#include <memory>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/laminate.hpp"

namespace gapfront {

namespace flow {
/// Relative standard uncertainty of the permeability: the largest that a ply (of a zone too) gives, `otherwise` where
/// none does.
double permeability_spread(const LaminateOptions&, double otherwise);
/// What of a smooth field reaches far.
class FieldModes;
}  // namespace flow

/// One draw: what is added to the gap (mm per node; where it is not measured by what the map assumes), and the factor
/// on the permeability at each node.
struct Draw {
  std::vector<double> gap, permeability;
  std::vector<double> weight{};  ///< factor on the glass per area; empty: it is not drawn
};

/// How the permeability scatters over the sheet.
struct ScatterModel {
  double spread = 0;  ///< relative standard uncertainty
  double length = 0;  ///< over which it is alike, mm
  /// The same per node, where plies of several spreads lie; empty: `spread` everywhere.
  std::vector<double> spread_at{};
  double weight = 0;  ///< of the glass per area, relative, alike over the same length; 0: not drawn
  bool operator==(const ScatterModel&) const = default;
};

namespace flow {
/// How the glass of these options scatters from place to place: each node has the largest spread that a ply lying there
/// gives, `otherwise.spread` where none does.
ScatterModel scatter_model(const Sheet&, const LaminateOptions&, ScatterModel otherwise);
/// What a whole batch has in common, drawn: areal weight, loft, compaction and permeability of each glass by its name
/// (plies of zones too), and the bridging of each inside radius. The same number gives the same batch. Nothing drawn
/// where no spread is given.
LaminateOptions drawn_batch(const LaminateOptions&, unsigned seed, unsigned number);
/// Whether drawn_batch() draws anything.
bool batch_is_drawn(const LaminateOptions&);
/// Factor on the viscosity of draw `number`, of a relative standard uncertainty; 1 where that is 0.
double drawn_viscosity(double spread, unsigned seed, unsigned number);
}  // namespace flow

/// Draws by number: the same number gives the same draw, on every number of threads. By itself each is as likely as
/// any other; together, from 0 on, they cover what may happen more evenly than independent draws do: a scrambled Sobol
/// sequence in the registration, the instrument's offset, the temperature and the principal components of the glass.
/// Means over them scatter less, so that an interval that counts them as independent is as a rule too wide.
class Draws {
 public:
  /// Registration, instrument and temperature move the whole gap together (as the gap's U takes them: one rigid motion,
  /// one offset), the local fits move each place by itself; the permeability scatters as the model says. Sheet and map
  /// must outlive it.
  Draws(const Sheet&, const GapMap&, const ScatterModel&, unsigned seed);
  /// The same with glass that scatters by another model.
  Draws with(const ScatterModel&) const;
  Draw operator()(unsigned number) const;  ///< any number, in any order
  /// Whether they are of this sheet, gap and seed.
  bool alike(const Sheet&, const GapMap&, unsigned seed) const;
  /// Whether the other gives the same draws: of the same sheet and gap, by the same model and seed.
  bool same_as(const Draws&) const;
  std::size_t bytes() const { return 2 * sizeof(double) * sheet_.size(); }  ///< of a draw

 private:
  const Sheet& sheet_;
  const GapMap& map_;
  ScatterModel scatter_;
  unsigned seed_;
  std::shared_ptr<const std::vector<std::vector<int>>> near_;
  std::shared_ptr<const flow::FieldModes> modes_;
  Matrix6 motion_;  ///< times six normal numbers: a motion of the registration's covariance
};

/// Fewer nodes of a sheet, see flow::sheet_of_draws().
struct CoarseSheet;

/// The first draws, kept for states that are compared by the same ones: to draw one costs a tenth of a filling.
class KeptDraws {
 public:
  /// No more of them than fit into 64 MB: what is not kept is drawn when it is asked for. `filled`: the sheet that they
  /// are filled on; null: their own.
  KeptDraws(Draws, int count, std::shared_ptr<const CoarseSheet> filled);
  /// The sheet that they are filled on; null: their own.
  const std::shared_ptr<const CoarseSheet>& filled() const { return filled_; }
  const Draws& draws() const { return draws_; }  ///< these and all others
  /// Whether draw `number` is kept, and is one of these draws.
  bool has(int number, const Draws& of) const;
  /// One that is kept.
  const Draw& operator[](int number) const { return kept_[static_cast<std::size_t>(number)]; }

 private:
  Draws draws_;
  std::vector<Draw> kept_;
  std::shared_ptr<const CoarseSheet> filled_;
};

namespace flow {
/// Multiplies each node's conductance by its factor, through the glass only: an open channel has no scatter.
void scatter_reinforcement(LaminateMap&, const std::vector<double>& factor);
}  // namespace flow

}  // namespace gapfront
