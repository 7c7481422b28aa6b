#pragma once
#include <optional>

#include "gapfront/recheck.hpp"

namespace gapfront::history {

/// Targets that stand elsewhere among the others of their half than they did; nothing when fewer than four are common
/// to both dates, so that it cannot be said.
std::optional<std::vector<DatumMove>> moved_targets(const Record& now, const Record& then);

}  // namespace gapfront::history
