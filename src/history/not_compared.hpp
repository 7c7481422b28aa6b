// What a re-check cannot tell, because one of the two dates does not show it.
#pragma once
#include "gapfront/recheck.hpp"

namespace gapfront::history {

/// Connected places that are not measured at both dates, the largest first; none where they are too little to decide
/// (see ToleranceOptions). `compared`: the map of the difference.
std::vector<UnseenPlace> not_compared(const Sheet&, const GapMap& compared, const ToleranceOptions&);

/// Puts them into headline, notes and next date: that nothing is known of them, and that wear which borders on one may
/// be more than was seen, so that its limit may be reached already.
void tell_not_compared(Recheck&, const std::vector<UnseenPlace>&);

}  // namespace gapfront::history
