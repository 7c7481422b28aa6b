// A fill that lets somebody see the pressure at every step.
#pragma once
#include <functional>

#include "flow/margin.hpp"

namespace gapfront {

/// Time s, and what held since the call before: inlet pressure, and the fluid's pressure at every node (resin, or air
/// where it is dry), absolute, Pa.
using PressureWatch = std::function<void(double time, double inlet, const std::vector<double>& pressure)>;
/// fill() without its `opening`.
Filling fill_watched(const Sheet&, const LaminateMap&, const FlowOptions&, const PressureWatch&, const Progress& = {});

}  // namespace gapfront
