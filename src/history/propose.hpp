// When to look again.
#pragma once
#include <vector>

#include "gapfront/recheck.hpp"

namespace gapfront::history {

/// Sets the next re-check: half of the shortest time that the evidence allows, so that another look is taken before the
/// limit can be reached. The shortest is the least of the cycles left by the 95 % intervals, and of those at the
/// fastest credible pace (`Wear::soonest`), also where the change has vanished since, and of a seat that moves
/// (`by_seat`). It is never farther ahead than the run that was observed since the baseline, whatever the figures say:
/// of what comes after as many cycles again nothing was seen (own choice). None at a limit that is reached, as the
/// place is mended first.
void propose(Recheck&, const std::vector<Record>&, const RecheckOptions&, double by_seat);

/// Of an `unsure` one: the reason is the scatter, not the seat.
bool by_scatter(const Recheck&);

}  // namespace gapfront::history
