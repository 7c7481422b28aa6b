// What stands on the halves for the registration's sake, as the report and the masks name it.
#pragma once
#include <optional>
#include <vector>

#include "align/targets.hpp"

namespace gapfront::align {

/// Both halves' views of every target.
std::vector<FoundMark> marks_of(const Alignment&, const std::vector<LocatedTarget>&, const std::vector<Target>& wanted);

/// Fills in where the balls of a wrong size are.
void place_balls(Alignment&, const std::vector<LocatedTarget>&);

/// The greatest: a mask for it covers a smaller one as well.
std::optional<double> ball_size(const std::vector<Target>& wanted);

/// Balls of the named targets' sizes that the job does not name.
std::vector<Vec3> spare_of(const std::vector<Vec3>& points, double noise, const std::vector<LocatedTarget>&,
                           const std::vector<Target>& wanted, int half);

}  // namespace gapfront::align
