// What could be done: candidates without their effect, which the plan re-computes.
#pragma once
#include "correct/shims.hpp"

namespace gapfront::correct {

/// The glass in the gap that the resin meets; `b` null or not computed: a rigid half.
LaminateMap filled(const CorrectInput&, const std::vector<double>& gap, const LaminateOptions&, const Breathing* b);

std::optional<Correction> shim_candidate(const CorrectInput&, const CorrectOptions&, Messages& warnings);
/// Regions of the same sign that lie so near each other that their feathered edges would run together, as one each.
std::vector<DeviationRegion> merged_regions(const Sheet&, const std::vector<DeviationRegion>&, double within);
/// Build-up or relief of one region.
Correction surface_candidate(const CorrectInput&, const CorrectOptions&, const DeviationRegion&);
/// Extra glass over a region that is too wide: a patch, or packing where it is a long narrow lane in a radius.
/// Nothing when no ply improves it without over-packing, or a vertical wall leaves the patch no plan outline.
std::optional<Correction> reinforcement_candidate(const CorrectInput&, const CorrectOptions&, const DeviationRegion&,
                                                  Messages& warnings);
/// Where the last point of a filling is not at the vent: the nearest vent moved there, and inlets moved so that the
/// fronts meet nearer to the vent.
std::vector<Correction> port_candidates(const CorrectInput&, const CorrectOptions&, const FlowOptions&, const Filling&);

/// Everything on either half that a tape can be held to: references, and the stations that are given.
std::vector<Reference> tape_references(const CorrectOptions&);
/// Adds what the work order needs: tape, depth stops, thickness contours, templates.
void add_details(const CorrectInput&, const CorrectOptions&, Correction&);

}  // namespace gapfront::correct
