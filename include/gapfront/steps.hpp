// Steps between the passes of a scan, as the scan itself shows them.
#pragma once
#include <cstddef>
#include <vector>
#include "gapfront/instrument.hpp"
#include "gapfront/scan.hpp"

namespace gapfront {

/// Straight lines across a scan's face along which it jumps.
struct StepsSeen {
  std::size_t lines = 0;        ///< 0: no step is seen
  double rms = 0, largest = 0;  ///< of the jumps across the face, mm
  ScanPlace at;                 ///< on the line with the largest
  double length = 0;            ///< of all lines, mm
  double area = 0;              ///< of the face that was looked at, mm²
  /// Of passes whose edges make up that length on that area, mm.
  double width() const { return length > 0 ? area / length : 0; }
};

namespace scan {
/// Looks for straight lines across the scan's plan along which overlapping discs of the face, 6, 12 or 24 `spacing` in
/// radius, jump alike: by least squares beside a quadric in each disc, the jumps of a line's discs weighted together. A
/// step is a jump of six standard uncertainties or more (of what lines of this scan usually show, so that errors that
/// neighbouring points share and the face's shape count as scatter) of which half as wide discs show 80 %: a step shows
/// all there, a bend half, a change of curvature a quarter. Where one side is scanned twice, passes overlap there, and
/// the step is twice the jump. Not seen: steps along lines that are not straight or go over less than a third of the
/// scan; passes that are blended into each other; what a face that waves within a disc hides; walls steeper than 66°;
/// tilts and bends of passes. An edge of the mold itself, e.g. of an insert, is seen as well. `points` and `spacing` in
/// mm; no step where there are too few points.
StepsSeen find_steps(const std::vector<Vec3>& points, double spacing);

/// The model with steps of that size and passes of that width, where they are more than it declares (by more than the
/// chance of so few lines: 1 in 700) and 0.002 mm at least.
InstrumentModel with_steps(InstrumentModel declared, const StepsSeen&, double size);
}  // namespace scan

}  // namespace gapfront
