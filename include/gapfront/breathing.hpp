// A light upper half gives way: to the vacuum, to the glass, to the resin.
//
// Which gap is meant to be the nominal one? A light half is laid up on sheet wax of the nominal thickness, or cut to a
// drawing, and is checked as it was made: open, with nothing pressing on it. Nominal thickness, deviation and verdict
// are therefore about the shape as scanned. What the resin meets is another gap, that under vacuum and resin, and a
// tool made true to the nominal thickness breathes as well. So both fronts, the nominal and the measured one, run in
// the gap under filling, each with the breathing of its own half: the lead is then what the tool's error does to the
// front, and a true tool leads nowhere. A correction that worked against the breathing would only undo what the next
// half does again. What breathing does by itself is told beside it, see `ShapeFill`.
#pragma once
#include <vector>
#include "gapfront/flow.hpp"

namespace gapfront {

/// Opening per node by one state of load, against the shape as scanned, mm along the gap; negative: pressed in.
struct BreathingState {
  std::vector<double> move;
  double minimum = 0, maximum = 0;
  int min_node = -1, max_node = -1;
};
/// The fill with the upper half held in one shape, against the front that was computed.
struct ShapeFill {
  double fill_time = 0, dry_area = 0;  ///< s, mm²
  double earlier = 0, later = 0;       ///< greatest over the nodes that both fill, s
};
/// How the upper half gives way, and the front that runs with it.
struct Breathing {
  bool computed = false;        ///< false: no stiffness is declared, the upper half is taken as rigid
  BreathingState dry;           ///< vacuum on, no resin yet
  BreathingState filling;       ///< under the mean fluid pressure of the fill; the front below is computed with it
  BreathingState worst;         ///< under the fluid pressure when closing exceeds opening by the least
  std::vector<double> changes;  ///< greatest change of the gap in each round of the fixed point, mm
  bool converged = false;
  Filling front;  ///< the fill with the gap of `filling`
  /// The same fill in the shape as scanned (a rigid half), and in the shapes between which the half moves in the course
  /// of the fill: they bracket what taking one shape for all of it may do to the arrival.
  ShapeFill as_scanned, at_dry, at_worst;
};

namespace flow {
/// Facet shell (bending and stretching) on the sheet's triangles for the upper half, held at the rim and the supports.
/// Gap → laminate → fill → pressure → gap, repeated until the gap changes by less than 1 µm; within each round the
/// glass's own spring is solved with the shell by Newton's method. Throws Error{Fault::input} for stiffness zones that
/// leave a part of the sheet without any. `start`: a shape to begin from, that of a like gap; it saves rounds.
Breathing breathe(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&,
                  const Progress& = {}, const std::vector<double>& start = {});
/// Fills `as_scanned`, `at_dry` and `at_worst`: three fills more, of the same gap.
void compare_shapes(Breathing&, const Sheet&, const std::vector<double>& gap, const LaminateOptions&,
                    const FlowOptions&);
/// The gap that the resin meets, mm; `gap` itself where the half is rigid.
std::vector<double> under_filling(std::vector<double> gap, const Breathing&);
}  // namespace flow

}  // namespace gapfront
