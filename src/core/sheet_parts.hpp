// Of a sheet: its area, its node at a place, and parts of it that are connected or lie in a radius.
#pragma once
#include <vector>

#include "gapfront/sheet.hpp"

namespace gapfront {

/// mm².
double sheet_area(const Sheet&);

/// The node nearest to a place.
int nearest_node(const Sheet&, const Vec3&);

/// The nodes of each connected part of those with the same label, in ascending order; 0 is no label.
std::vector<std::vector<int>> connected_parts(const Sheet&, const std::vector<char>& label);

/// The nodes of each connected part of what is flagged (one flag a node), in ascending order; parts of fewer than four
/// nodes or less than 1 cm², which is the least that is ever listed, are left out.
std::vector<std::vector<int>> parts_of_sheet(const Sheet&, const std::vector<char>& flagged);

/// Whether the face turns over these nodes by so much that they lie in a radius: by a third of a right angle or more,
/// which a dish of 200 mm does over 120 mm and a fillet over a few (own choice).
bool in_radius(const Sheet&, const std::vector<int>& nodes);

}  // namespace gapfront
