// Points that no scanner measured: a hole that a program has filled in is smoother than any scan.
#pragma once
#include "cavity/truncation.hpp"
#include "gapfront/align.hpp"

namespace gapfront::cavity {

/// Takes the gap from nodes over such points (`GapMap::made_up`). The scatter of the points about their own fit tells:
/// over 1 cm² or more it is less than a twentieth of what it is over the rest of the scan (own choice; a scanner's
/// noise changes a few times over with angle and gloss). A scan without noise anywhere tells nothing.
void drop_made_up(const Sheet&, const std::vector<Witness>&, const PointNoise&, GapMap&);

/// Counts them as holes of the scan that has them, in a map that has its coverage.
void count_made_up(const Sheet&, GapMap&);

}  // namespace gapfront::cavity
