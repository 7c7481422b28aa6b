// The balance of forces on the upper half, followed through a fill.
#pragma once
#include <vector>

#include "gapfront/flow.hpp"

namespace gapfront::flow {

/// The opening axis: mean normal of the sheet. Zero for a sheet closed on itself.
Vec3 opening_axis(const Sheet&);
/// Area of each node as seen along the axis, mm²; negative where the face overhangs.
std::vector<double> projected_areas(const Sheet&);
/// What clamps and perimeter vacuum bring, whatever the cavity does, Pa·mm².
double flange_force(const Sheet&, const ClosingOptions&);

/// When nothing flows any more, s: the mold is full, or the resin has gelled. What would come after that opens nothing.
double end_of_flow(const Filling&, const FlowOptions&);

/// Sees the fluid's pressure (absolute, per node) at every step of a fill and keeps what `Opening` tells.
class OpeningWatch {
 public:
  OpeningWatch(const Sheet&, const LaminateMap&, const FlowOptions&);
  void see(double time, const std::vector<double>& pressure);
  /// `inlet`: its last pressure, absolute.
  Opening finish(double time, double inlet);
  /// The balance at one moment.
  OpeningSample balance(double time, const std::vector<double>& pressure) const;
  /// Of the fluid's pressure over the cavity's, the greatest share for which closing ≥ safety × opening (and, if
  /// `everywhere`, the same at every place); above 1 if there is room. 0 if not even the dry mold stays shut.
  double allowed(const std::vector<double>& pressure, double safety, bool everywhere) const;

 private:
  double glass_push(std::size_t node, double pressure) const;
  std::vector<double> area_, compaction_, last_;
  double wet_share_ = 1;  // of what dry glass pushes back with, what wet glass does at the most
  double mechanical_ = 0, flange_ = 0, cavity_ = 0, last_time_ = 0, wet_ = 0, gel_;
  Opening out_;
};

}  // namespace gapfront::flow
