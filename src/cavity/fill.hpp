// A guess of the lower face where its scan has holes, so that the sheet is one piece. Nothing is measured there.
#pragma once
#include "cavity/reconstruct.hpp"

namespace gapfront::cavity {

/// The samples, and after them guessed ones where the face inside the seal line is missing: carried down from the upper
/// scan by the gap around, where that covers the place, else a membrane between the edges. Without a seal line only
/// what the scan encloses is missing, and what lies between its pieces. `covered` is the part that the scan covers, and
/// `clutter` are places of what it shows besides. Returns the same samples if nothing could be added.
Samples with_guesses(const Samples&, const Mesh& covered, const std::vector<Vec3>& clutter, const Surface& lower,
                     const Surface& upper, const SheetOptions&, const SealLine&);

/// Samples with more behind them; edge lengths are graded anew. In reconstruct_samples.cpp.
Samples joined(const Samples&, const std::vector<Vec3>& points, const std::vector<Vec3>& normals,
               const std::vector<double>& size, const std::vector<double>& bend, double edge);

/// Heights on the cells of a plan for which `wanted` is set and `height` is not (NaN), from those that have one: each
/// is the mean of its neighbours (a membrane); at the border of what is wanted the membrane is free.
void stretch_membrane(std::vector<double>& height, const std::vector<char>& wanted, int nx, int ny);

}  // namespace gapfront::cavity
