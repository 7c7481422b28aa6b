// Whether the balls are as large as the job says: a wrong diameter moves their centres, alike in all of them.
#pragma once
#include <vector>

#include "align/targets.hpp"

namespace gapfront::align {

struct BallSizes {
  /// Differences that may move the closed position by more than the play, the largest first; without their places.
  std::vector<WrongBalls> doubts;
  Messages notes;       ///< smaller ones that are sure
  bool fitted = false;  ///< some balls were fitted again, with their measured diameters
};

/// Holds what each ball measures against the job's diameter. Those of one half and one diameter are held against it
/// in common, and each against the others. Where the difference is sure and worth a fifth of `play` (mm, of the closed
/// position), the places are fitted again with the measured diameter. `wanted`: the job's targets, in the same order.
BallSizes check_ball_sizes(std::vector<LocatedTarget>&, const std::vector<Target>& wanted, const PointNoise&,
                           double play);

}  // namespace gapfront::align
