// The part of a face that is worked: a smooth outline that is wide enough for hand and tool.
#pragma once
#include "gapfront/cavity.hpp"

namespace gapfront::correct {

/// Distance of every node from the nearest of the marked ones, along the mesh's edges, mm; `far` where it is more.
std::vector<double> distance_from(const Sheet&, const std::vector<std::vector<int>>& around,
                                  const std::vector<char>& marked, double far);

/// Per node: mm inside the outline of the work, negative outside. The marked nodes are closed by a disc of `across`
/// (notches narrower than that are filled), and grown until `across` fits into them.
std::vector<double> workable(const Sheet&, const std::vector<std::vector<int>>& around, const std::vector<char>& marked,
                             double across);

/// The same in one piece: where what is marked lies in several, the width is raised until they are joined by a neck, so
/// that one outline holds them all.
std::vector<double> one_piece(const Sheet&, const std::vector<std::vector<int>>& around,
                              const std::vector<char>& marked, double across);

}  // namespace gapfront::correct
