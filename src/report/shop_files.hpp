// Files for what stands in the shop: depth stops for an arm, outlines for a marker.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"
#include "gapfront/report.hpp"

namespace gapfront::report {

/// depth-stops.csv (RFC 4180, mm): where each depth stop of the chosen corrections stands on the face, which way the
/// face looks there, how much comes on (or off, negative), and where the face is after the work. Empty without any.
std::string depth_stops_csv(const Inspection&);
/// Each template as a drawing of its own, in mm, y up, for laser markers and cutters: ASCII DXF, release 12 (AC1009).
/// Layers OUTLINE, CONTOUR_0-20 (a layer per thickness), STOPS, MARKS and CHECK (a bar of 100 mm).
FileSet template_dxfs(const Inspection&);

}  // namespace gapfront::report
