// When a place of wear comes to its limit, with the seat's movement and without it.
#pragma once
#include "history/course.hpp"

namespace gapfront::history {

/// A place of wear as its limit sees it.
struct WornPlace {
  const std::vector<double>& core;  ///< the greatest change, as a sum over nodes
  int top = -1;                     ///< the node by it
  double sign = 1, inflation = 1;
};
/// Sets limit and cycles left, by the limit that the verdict judges by: the gap with the seat's present movement in it.
/// That it is reached is said where the verdict says so too, or a disc of the least area that it judges proves it.
/// Where only the seat's movement takes the gap there, limit and cycles are those of the wear alone (`by_seat`).
void set_end(const Recheck&, const Course&, const WornPlace&, const RecheckOptions&, Wear&);

/// Cycles in which the fastest credible pace of a course uses up the least credible `room`, whose standard uncertainty
/// is `u`. Both are one-sided 95 %: their errors go together, as the newest gap is in both.
double soonest_of(const std::vector<TrendPoint>&, double room, double u, double sign);

/// The gap at a node that ends the use, in the direction of `sign`; `at_first`: at the baseline.
double gap_limit(const Recheck&, int node, double sign, double at_first, const RecheckOptions&);

/// Whether the seat's movement takes the gap to a limit, or may do so: it is to be put right before all else.
bool seat_first(const Recheck&, const RecheckOptions&);
/// The verdict is out of tolerance by the seat's movement, at least for the greater part.
bool out_by_seat(const Recheck&, const RecheckOptions&);

}  // namespace gapfront::history
