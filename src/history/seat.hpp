// Has the upper half's seat moved, or has a face worn so widely that it looks like it?
#pragma once
#include <utility>

#include "history/course.hpp"
#include "history/drift.hpp"

namespace gapfront::history {

/// The scatter of the drift beyond which no place is named (own choice: at three times U, what stands out by the rules
/// of noise may be the scatter's own).
constexpr double kScatters = 3;

/// What a rigid change of the gap is.
enum class Seat {
  still,  ///< none that the registrations do not explain, or too small to matter
  moved,  ///< the upper half, as a whole
  /// A face, widely, so that nothing rigid is to be taken out: the lower one moved against its own targets, or the
  /// upper one beside a rim that stood still.
  worn,
  untold  ///< the one or the other
};
/// By the free rigid part of the drift and what was found beside it. `targets_hold`: none was found to have moved.
Seat seat_of(const Sheet&, const Record& now, const Record& then, const Drift& free, const Found&, bool targets_hold);

/// Cycles in which the seat, moving on at the fastest credible pace between two dates, takes the gap to its limit over
/// more of the face than single noisy places; infinite where it has not moved.
double soonest_by_seat(const Recheck&, const Course&, const RecheckOptions&);

/// How far each face moved at a node, out of the cavity, tool frame: lower, upper.
std::pair<double, double> face_moves(const Sheet&, const Record& now, const Record& then, int node);

}  // namespace gapfront::history
