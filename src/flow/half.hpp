// The upper half as a shell, in balance with what presses on it from both sides.
#pragma once
#include <vector>

#include "flow/shell.hpp"

namespace gapfront::flow {

/// Throws Error{Fault::input} for stiffness zones that leave a part without any, and where nothing holds the half.
class Half {
 public:
  /// Refers to all four, which must outlive it; `gap` as scanned, mm.
  Half(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&);
  /// How far it moves along the gap (mm) under this fluid pressure (absolute, Pa) and what the glass gives back,
  /// starting from `move`; false if it does not come to rest.
  /// Wet glass (fluid above the vents' pressure) gives back less, and less again what was squeezed before: see
  /// ClosingOptions.
  bool settle(const std::vector<double>& fluid, std::vector<double>& move);
  /// This is how far the glass was squeezed before the resin came.
  void squeezed(const std::vector<double>& move);

 private:
  std::vector<double> compaction(const std::vector<double>& gap, const std::vector<double>& fluid) const;

  const Sheet& sheet_;
  const std::vector<double>& gap_;
  const LaminateOptions& laminate_;
  const FlowOptions& flow_;
  Shell shell_;
  std::vector<double> before_;  // what the glass gave back when it was squeezed dry, Pa; empty: loading only
};

}  // namespace gapfront::flow
