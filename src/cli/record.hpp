// Inspections that go into a tool's history.
#pragma once
#include "gapfront/history.hpp"

namespace gapfront::cli {

struct Recorded {
  Inspection found;
  long id = 0;
  bool baseline = false;  ///< it began the history, or a new part of it
};
/// Inspects the job on its tool's baseline sheet and in the baseline's frame, and stores the result. The first
/// inspection is the baseline; `anew` begins a new one (after work on the tool). A measurement in doubt is not stored.
Recorded inspect_into_history(const Job&, bool anew, const Progress&);

}  // namespace gapfront::cli
