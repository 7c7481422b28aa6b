// What would decide what is undecided.
#pragma once
#include "conformity/places.hpp"

namespace gapfront::conformity {

/// Each way's effect on the places of `decided` that are undecided, judged anew by the same gaps and limits; the
/// cheapest first. None where nothing is undecided.
std::vector<BetterScan> better_of(const Places&, const Sheet&, const GapMap&, const std::vector<NodeLimits>&,
                                  const Decisions& decided);
/// In words: those that decide something, or that none does.
Text told_of(const std::vector<BetterScan>&);

}  // namespace gapfront::conformity
