// What a re-check has to say.
#pragma once
#include <vector>

#include "history/drift.hpp"
#include "history/not_compared.hpp"

namespace gapfront::history {

/// Sets headline, what drops out, and notes, by what the re-check has found.
void describe(Recheck&, const Drift&, const std::vector<Record>&, const NotCompared&, const RecheckOptions&);

}  // namespace gapfront::history
