// What could be done: candidates without their effect, which the plan re-computes.
#pragma once
#include "correct/shims.hpp"

namespace gapfront {

std::optional<Correction> shim_candidate(const CorrectInput&, const CorrectOptions&,
                                         std::vector<std::string>& warnings);
/// Build-up or relief of one region.
Correction surface_candidate(const CorrectInput&, const CorrectOptions&, const DeviationRegion&);
/// Extra glass over a region that is too wide: a patch, or packing where it is a long narrow lane in a radius.
/// Nothing when no ply improves it without over-packing, or a vertical wall leaves the patch no plan outline.
std::optional<Correction> glass_candidate(const CorrectInput&, const CorrectOptions&, const DeviationRegion&,
                                          std::vector<std::string>& warnings);

}  // namespace gapfront
