// Tooling balls found without rough places, and told from one another by their distances.
#pragma once
#include <cstddef>
#include <utility>
#include <vector>

#include "gapfront/align.hpp"

namespace gapfront::align {

/// Balls of this diameter in a scan, most points first: normals vote for centres a radius away on either side, and each
/// peak is fitted; kept is what shows at least half of a hemisphere. Fillets and pockets of that radius do not.
std::vector<SphereFit> find_balls(const std::vector<Vec3>& points, double diameter, double noise);

/// Balls matched at the most: past this the search for the largest set grows out of hand.
constexpr std::size_t kMostMatched = 14;
/// Between the patterns of two halves, mm. Own centres are good to a few micrometres; half a millimetre allows for
/// halves at different temperatures (1 m of aluminium, 20 K) and is still far below the differences that tell balls
/// apart.
constexpr double kPatternPlay = 0.5;

/// Which ball of one list is which of another.
struct BallMatch {
  std::vector<std::pair<int, int>> pairs;  ///< index in the first list, index in the second; fewer than 3: none match
  int ways = 0;                            ///< different sets of that size; more than one: the pattern repeats
};
/// The largest set whose mutual distances agree within `tolerance` mm and that one rigid motion carries onto each
/// other.
BallMatch match_balls(const std::vector<Vec3>& a, const std::vector<Vec3>& b, double tolerance);

struct FoundBalls {
  std::vector<Target> targets;  ///< "ball 1", "ball 2"… with their places in both scans
  std::vector<Vec3> spare[2];   ///< centres of balls that are no target, lower and upper scan
};
/// Throws Error{measurement} when fewer than 3 balls match, or when they match in several ways.
FoundBalls find_targets(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, double diameter,
                        const PointNoise&);

/// Centres of balls of the targets' sizes that are no target, in one half's scan. They stand on the face all the same.
std::vector<Vec3> spare_balls(const std::vector<Vec3>& points, double noise, double diameter,
                              const std::vector<Vec3>& targets);

}  // namespace gapfront::align
