// What the uncertainty of the gap and the scatter of the glass leave of a predicted lead.
#pragma once
#include <memory>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/draws.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

/// How fillings are drawn at random.
struct EnsembleOptions {
  int runs = 64;        ///< fillings drawn; 0: none. 64: none of them trapping air bounds the chance at 6 %
  double length = 50;   ///< mm over which the permeability of a mat is alike (own choice: a hand's breadth)
  double spread = 0.2;  ///< relative standard uncertainty of the permeability where no ply gives one (from memory)
  double weight = 0;    ///< scatter of the glass per area from place to place, relative; 0: not drawn
  double late = 0.02;   ///< share of the resin that comes last: nodes reached in it are "last to fill"
  /// Of these fillings, see FlowOptions. Against steps of half a row, balanced to the end, the demos' 64 draws trap air
  /// as often (26 and 26, 18 and 17) and dry 4 % less on average, in three fifths of the time; where nearly all of them
  /// trap air they end 4 % early on average.
  double rest_fraction = 0.01, loose_fraction = 0.05;
  /// Air that dries no more of the sheet than this, mm², is no dry spot: 2 cm², a spot of 16 mm (own choice). The mesh
  /// resolves pockets of three nodes; without this bound the chance of air grows on a finer mesh. A third of its width
  /// is enough for the rows of drawn fillings, see flow::sheet_of_draws().
  double min_dry = 200;
  unsigned seed = 6;
};

namespace flow {
/// How glass scatters from place to place where its plies do not say.
ScatterModel scatter_of(const EnsembleOptions&);
/// How a drawn filling is computed: in less time than a reported one (see EnsembleOptions).
FlowOptions drawn_flow(const Sheet&, FlowOptions, const EnsembleOptions&);
/// The sheet that drawn fillings run on: a third of the least dry spot that counts sees it close, and a sheet of finer
/// rows is left to fewer nodes, each with the cells around it. Null: the sheet as it is, whose rows are not much finer.
std::shared_ptr<const CoarseSheet> sheet_of_draws(const Sheet&, const EnsembleOptions&);
}  // namespace flow

/// What one drawn filling came to.
struct DrawnFill {
  double dry_area = 0;         ///< sheet area in pockets, mm²
  bool pocket = false;         ///< it traps air
  Vec3 centre = Vec3::Zero();  ///< of its largest pocket
  double max_lead_s = 0;       ///< against the nominal front
  bool settled = true;         ///< see flow::settled
};

/// What the drawn fillings come to.
struct Ensemble {
  int runs = 0;
  std::vector<DrawnFill> each;                   ///< in the order of the draws (not written out)
  double lead_s = 0;                             ///< a lead counts beyond this, s
  std::vector<double> dry, last, leads;          ///< per node: probability of staying dry, of filling last, of a lead
  std::vector<double> region_leads;              ///< per region of the Lead: that its mean lead counts
  double pocket = 0;                             ///< probability that air is trapped anywhere
  double dry_area = 0;                           ///< sheet area in pockets, mean over the runs, mm²
  double fill_time_low = 0, fill_time_high = 0;  ///< s: nineteen of twenty runs lie between
  double max_low = 0, max_high = 0;              ///< the same for the greatest lead, s
};

namespace flow {
/// The number of a draw in which nothing is drawn: the state as it is, filled as drawn ones are.
inline constexpr int kUndrawn = -1;
/// Fillings with the gap and the permeability drawn at random about `gap` (mm per node): registration, instrument and
/// temperature move the whole gap together (as the gap's U takes them: one rigid motion, one offset), the local fits
/// move each place by itself, the permeability (and the areal weight, where its scatter is given) varies along the
/// glass. What a batch of glass has in common, how each radius is laid and the viscosity are drawn where their spreads
/// are given (drawn_batch, drawn_viscosity). The same for every number of threads.
Ensemble draw_fillings(const Sheet&, const GapMap&, const std::vector<double>& gap, const LaminateOptions&,
                       const FlowOptions&, const Filling& nominal, const Lead&, const EnsembleOptions& = {},
                       const Progress& = {});

/// Draws number numbers[0], numbers[1]… (counted from 0, in any order; kUndrawn too) as draw_fillings() makes them, for
/// a state: states that are compared see the same glass and the same error of the gap. `gap_known`: the gap is a true
/// mold's and has no error; then the scatter of the glass is all that is drawn. Leads are against `front`; null: none
/// are computed. What `kept` holds is not drawn again.
std::vector<DrawnFill> draw_air(const Sheet&, const GapMap&, const std::vector<double>& gap, const LaminateOptions&,
                                const FlowOptions&, const EnsembleOptions&, const std::vector<int>& numbers,
                                bool gap_known = false, const Filling* front = nullptr,
                                const KeptDraws* kept = nullptr);
/// first, first + 1 … first + count − 1; empty if count ≤ 0.
std::vector<int> numbers_from(int first, int count);
/// Sheet area in pockets, mean over the draws, mm².
double mean_dry_area(const std::vector<DrawnFill>&);
}  // namespace flow

}  // namespace gapfront
