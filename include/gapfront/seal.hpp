// Where the seal line probably runs, read from the geometry of both halves; a proposal, never a fact.
#pragma once
#include <vector>
#include "gapfront/cavity.hpp"

namespace gapfront {

/// How a proposed seal line was found, or why none was.
enum class SealFound {
  land,       ///< where the gap leaves the land: from contact or stand-off to the cavity's
  rim,        ///< where the lower face bends away from the flange plane: the rim of the dish
  no_flange,  ///< no plane surrounds the face
  no_edge,    ///< neither does the gap change nor the face bend: nothing tells land from cavity
  open,       ///< an edge was found, but too little of it has a land beside it that was scanned
  tilted,     ///< Z of the frame does not leave the flange, so that no line in X and Y can follow the edge
};

/// A seal line read from the geometry.
struct SealProposal {
  SealFound found = SealFound::no_flange;
  std::vector<Vec3> line;                                     ///< closed, on the flange plane; empty unless land or rim
  double confidence = 0;                                      ///< share of the line that has a scanned land beside it
  double u = 0;                                               ///< how well the line is known, mm (own estimate)
  Vec3 plane_at = Vec3::Zero(), plane_normal = Vec3::Zero();  ///< of the flange, lower to upper; zero: none was found
  double land_gap = 0;                                        ///< between the lands, median, mm
  double land_spread = 0;                                     ///< of that distance about its best plane, 1σ, mm
  double land_width = 0;                                      ///< of the land outside the line, median, mm
  bool ok() const { return found == SealFound::land || found == SealFound::rim; }  ///< a line was found
};

namespace cavity {
/// Both halves closed, in one frame; any frame will do, the line lies in space. What stands within the masks is looked
/// past. Throws nothing: where nothing is found, `found` says why.
SealProposal propose_seal(const Surface& lower, const Surface& upper, const std::vector<Mask>& masks = {});

/// The same for a frame whose Z should leave the flange: a line in X and Y then follows the edge. Otherwise `tilted`.
SealProposal propose_seal_in_frame(const Surface& lower, const Surface& upper, const std::vector<Mask>& masks = {});

/// The land outside a proposed line: tubes around a path in its middle. Empty where it is too narrow to say.
std::vector<Region> proposed_lands(const SealProposal&);
}  // namespace cavity

}  // namespace gapfront
