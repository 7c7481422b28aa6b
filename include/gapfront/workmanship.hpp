// How well hand and shim do what is ordered, and what that leaves out of tolerance.
#pragma once
#include "gapfront/correct.hpp"

namespace gapfront {

namespace correct {
/// The area where the gap is outside its limits once `worked` has been carried out by real hands. `gap` is the gap as
/// planned, per node (CorrectionPlan::gap_after); each of `worked` needs its `gap_change`, shims their `shims` as well.
/// A face filled or ground by hand is off by a random field of standard deviation `hand`, alike over `reach`; nowhere
/// by more than half of what is added or taken there, so that the feathered edge runs out to nothing in every draw.
/// Stacks are off by `shim` each and tilt the half. Nodes without a measurement do not count. The same seed gives the
/// same draws; without work, or with a workmanship of zero, all three are the area of `gap` itself.
OutArea out_after_work(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, const std::vector<double>& gap,
                       const std::vector<const Correction*>& worked, const Workmanship&, int draws = 200,
                       unsigned seed = 1);
}  // namespace correct

}  // namespace gapfront
