// Where a scan leaves most of the face out, or has too few points there for the surface that its dense parts ask for.
#pragma once
#include "cavity/sheet_seal.hpp"
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// Throws Error{Fault::measurement} with place, density found and density needed, when thin coverage is why the scan
/// shows no face inside the seal line; does nothing when the fault is another.
void refuse_thin_scan(const Surface& lower, const SheetOptions&, const SealLine&);

/// Throws Error{Fault::measurement} where what the scan covers, mm², is less than half of what the seal line encloses.
void require_seal(double covered, const Surface& lower, const SheetOptions&, const SealLine&);

}  // namespace gapfront::cavity
