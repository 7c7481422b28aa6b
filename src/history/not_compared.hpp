// What a re-check cannot tell, because one of the two dates does not show it.
#pragma once
#include "gapfront/recheck.hpp"

namespace gapfront::history {

/// Connected places that one of two dates does not show, the largest first.
struct NotCompared {
  std::vector<UnseenPlace> now;   ///< those that today's scans leave out
  std::vector<UnseenPlace> then;  ///< those that only the earlier ones leave out
  bool empty() const { return now.empty() && then.empty(); }
};
/// None where they are too little to decide, as for a verdict (see ToleranceOptions).
NotCompared not_compared(const Sheet&, const GapMap& now, const GapMap& then, const ToleranceOptions&);

/// Puts them into headline and next date: that nothing is known of them, and that wear which borders on one may be more
/// than was seen. What today's scans leave out is to be scanned before any later date.
void tell_not_compared(Recheck&, const NotCompared&);

}  // namespace gapfront::history
