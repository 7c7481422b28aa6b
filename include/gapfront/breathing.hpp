// A light upper half gives way: to the vacuum, to the glass, to the resin.
#pragma once
#include <vector>
#include "gapfront/flow.hpp"

namespace gapfront {

/// Opening per node by one state of load, against the shape as scanned, mm along the gap; negative: pressed in.
struct BreathingState {
  std::vector<double> move;
  double least = 0, greatest = 0;
  int least_node = -1, greatest_node = -1;
};
struct Breathing {
  bool computed = false;        ///< false: no stiffness is declared, the upper half is taken as rigid
  BreathingState dry;           ///< vacuum on, no resin yet
  BreathingState filling;       ///< under the mean fluid pressure of the fill; the front below is computed with it
  BreathingState worst;         ///< under the fluid pressure when closing exceeds opening by the least
  std::vector<double> changes;  ///< greatest change of the gap in each round of the fixed point, mm
  bool converged = false;
  Filling front;  ///< the fill with the gap of `filling`
};
/// Facet shell (bending and stretching) on the sheet's triangles for the upper half, held at the rim and the supports.
/// Gap → laminate → fill → pressure → gap, repeated until the gap changes by less than 1 µm; within each round the
/// glass's own spring is solved with the shell by Newton's method. Throws Error{Fault::input} for stiffness zones that
/// leave a part of the sheet without any.
Breathing breathe(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&,
                  const Progress& = {});

}  // namespace gapfront
