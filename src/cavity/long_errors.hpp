// Errors that change along the scans, on the sheet: what they do to the gap, with what the registration does about
// them.
#pragma once
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// Fills `shapes`, and adds them to `u_instrument` and U. Each of the alignment's fields is a vector field of normal
/// errors, exp(−d²/2L²) alike at the distance d; where it moves a support, the upper half moves too, so that what both
/// share is no error of the gap. Written as few independent shapes (Nyström's method on places that are apart by less
/// than L, then the main ones of them); what those leave out is shared by the nodes about each of these places, or,
/// where it is little, by all.
void carry_fields(const Sheet&, const Alignment&, GapMap&);

}  // namespace gapfront::cavity
