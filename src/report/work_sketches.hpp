// The drawings of the work order: the half as it lies on the bench.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"
#include "gapfront/text.hpp"

namespace gapfront::report {

/// How the half that is worked lies, and which way the drawings and templates show it.
Text bench_words(const Correction&);
/// The rim of the sheet with the work, what a tape can be held to, and the tapes that find the place.
std::string place_sketch(const Inspection&, const Correction&);
/// The rim of the sheet with what is not measured for want of a scan of this half, and what stands on it; nothing where
/// that is too little to decide, or the other half's.
std::string scan_sketch(const Inspection&, bool upper);
/// The outline with lines of equal thickness and the numbers of the depth stops: the templates in small, or, where the
/// face does not lie flat, the face seen from the cavity.
std::string depth_sketches(const Inspection&, const Correction&);
/// A depth as hands work it, with its unit, not parted at a line's end; and its number alone.
std::string by_depth(double mm, const Voice&);
std::string depth_number(double mm, const Voice&);
std::string depth_unit(UnitSystem);
/// The same on a drawing: whole thousandths of an inch, which look like the number of a stop, have their unit with
/// them.
inline std::string depth_mark(double mm, const Voice& v) {
  return depth_number(mm, v) + (v.units == UnitSystem::inch ? " " + depth_unit(v.units) : "");
}

}  // namespace gapfront::report
