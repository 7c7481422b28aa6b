// Parts of a sheet: its node at a place, and connected parts that are large enough to be spoken of.
#pragma once
#include <vector>

#include "gapfront/sheet.hpp"

namespace gapfront {

/// The node nearest to a place.
int nearest_node(const Sheet&, const Vec3&);

/// The nodes of each connected part of those with the same label, in ascending order; 0 is no label.
std::vector<std::vector<int>> connected_parts(const Sheet&, const std::vector<char>& label);

/// The nodes of each connected part of what is flagged (one flag a node), in ascending order; parts of fewer than four
/// nodes or less than 1 cm², which is the least that is ever listed, are left out.
std::vector<std::vector<int>> parts_of_sheet(const Sheet&, const std::vector<char>& flagged);

}  // namespace gapfront
