// Depths as hands work them.
#pragma once
#include <cmath>

namespace gapfront::correct {

/// The nearest whole number of shop steps, mm; the depth itself where there is no step.
inline double in_steps(double mm, double step) { return step > 0 ? std::round(mm / step) * step : mm; }

}  // namespace gapfront::correct
