#include "gapfront/scan.hpp"
#include "scan/holes.hpp"
#include "units/words.hpp"

namespace gapfront::scan {
namespace {

/// The unit of a file, from the size of what is in it. Closed molds are 0.2 m to 5 m across and are scanned at
/// 0.1 mm to 5 mm; a size in millimetres, inches and metres therefore hardly overlaps.
void guess_unit(ScanFacts& f) {
  const double extent = (f.high - f.low).norm();
  const std::vector<Argument> seen{arg::name(words("%.3g", extent)), arg::name(words("%.3g", f.spacing))};
  if (f.unit_declared) {
    f.likely_unit = "mm";
    f.likely_unit_reason = Message("scan.unit-declared");
  } else if (extent < 6) {
    f.likely_unit = "m";
    f.likely_unit_reason = Message("scan.metres-likely", seen);
  } else if (extent < 80 && f.spacing < 0.2) {
    f.likely_unit = "in";
    f.likely_unit_reason = Message("scan.inches-likely", seen);
  } else if (extent < 80) {
    f.likely_unit = "mm";
    f.likely_unit_reason = Message("scan.small-but-coarse", seen);
  } else {
    f.likely_unit = "mm";
    f.likely_unit_reason = Message("scan.usual-size", seen);
  }
}

}  // namespace

ScanFacts look(const Scan& scan, const CleanReport& cleaned, const Progress& progress) {
  ScanFacts f;
  const auto& points = scan.cloud.points;
  f.points = points.size();
  f.spacing = cleaned.spacing;
  f.noise = cleaned.noise;
  f.has_normals = !scan.cloud.normals.empty();
  f.unit_declared = scan.unit_declared;
  if (!points.empty()) f.low = f.high = points[0];
  for (const auto& p : points) {
    f.low = f.low.cwiseMin(p);
    f.high = f.high.cwiseMax(p);
  }
  guess_unit(f);
  report_progress(progress, "look", 0.1);
  f.holes = find_holes(points, f.spacing);
  report_progress(progress, "look", 1);
  return f;
}

}  // namespace gapfront::scan
