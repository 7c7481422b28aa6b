// Errors that change along a scan (its warp, steps between its passes): what is declared of them, what the targets show
// of them, and how the closed position answers to them.
#pragma once
#include <vector>

#include "align/flange.hpp"
#include "align/targets.hpp"

namespace gapfront::align {

/// Of the upper half's scan against the lower's; those of one length are one.
std::vector<SharedNoise> fields_between(const ScanErrors& lower, const ScanErrors& upper);
double field_variance(const std::vector<SharedNoise>&);
/// Of the variance of both halves; half where nothing is declared of either.
double share_of_upper(const ScanErrors& lower, const ScanErrors& upper);

/// Of two, the one with the larger errors.
const SharedNoise& stronger(const SharedNoise&, const SharedNoise&);

/// Adds what is known of the scans' errors to the covariances of the places that were found in them.
void count_fields(std::vector<LocatedTarget>&, double variance_of_one_half);
void count_places(std::vector<LocatedTarget>&, const ScanErrors& lower, const ScanErrors& upper);

/// Fields by the residuals of the targets, where these are more than `declared` and their own u explain (1 in 400), and
/// within what a seat may move: from there on targets are in doubt. Needs four, all of them found in both scans.
/// Posterior mean over size and length (restricted likelihood, so that the closed position is counted as fitted), each
/// even in its logarithm. Nothing: nothing is seen.
std::vector<SharedNoise> fields_by_targets(const std::vector<LocatedTarget>&, const TargetFit&,
                                           const ScanToTool& lower_to_tool, const AlignOptions&,
                                           const std::vector<SharedNoise>& declared);

/// Of the targets' fit, about its pivot, and of the lands, about their centre.
std::vector<Support> supports_of(const std::vector<LocatedTarget>&, const TargetFit&, const ScanToTool& lower_to_tool);
std::vector<Support> supports_of(const FlangeFit&);

}  // namespace gapfront::align
