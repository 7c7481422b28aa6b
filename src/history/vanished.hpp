// Changes that an earlier inspection proved, and that are gone.
#pragma once
#include "history/course.hpp"

namespace gapfront::history {

/// Places that had changed beyond doubt at one date before today's, at the next had lost more than half of that, beyond
/// the U of both, and have not come back to it since. The latest first.
std::vector<Vanished> vanished_places(const Recheck&, const Course&, const FieldNull&, const RecheckOptions&);

/// Nodes that shall have no say in the rigid part: those of the places found, or none where so much has worn that the
/// rest no longer holds it.
std::vector<char> worn_part(const Sheet&, const Found&);

}  // namespace gapfront::history
