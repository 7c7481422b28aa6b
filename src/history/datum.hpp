#pragma once
#include <optional>

#include "gapfront/recheck.hpp"

namespace gapfront::history {

/// Targets that stand elsewhere among the others of their half than they did; nothing when fewer than four are common
/// to both dates, so that it cannot be said. A target's u is that of its own fit, with independent noise; `inflation`,
/// the scatter of the faces over their U, raises it where the scans' points share more.
std::optional<std::vector<DatumMove>> moved_targets(const Record& now, const Record& then, double inflation);

}  // namespace gapfront::history
