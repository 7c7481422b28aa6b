// Which node of the sheet a spot reading belongs to.
#pragma once
#include <optional>
#include <vector>
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// The nearest measured node within two edges, per reading. Throws Error{input} for a reading that is no number.
std::vector<std::optional<std::size_t>> nodes_of_spots(const Sheet&, const GapMap&, const std::vector<SpotReading>&);

}  // namespace gapfront::cavity
