// How a place on a half is found with a tape.
#pragma once
#include "correct/bench_half.hpp"
#include "correct/over_face.hpp"
#include "gapfront/correct.hpp"

namespace gapfront::correct {

/// What stands of a half around its moulding face: the greatest height in each cell of a grid in plan. Heights count
/// from the half, cavity side up. Where the scan shows nothing, the flange is taken to go on at the height of the rim.
class Surroundings {
 public:
  Surroundings(const BenchHalf&, const Surface* scan);
  /// Of the highest thing at that place in plan, outside the moulding face.
  double height(const Vec3& p) const;

 private:
  std::vector<Vec3> rim_;
  double up_, left_ = 0, low_ = 0;
  int columns_ = 0, rows_ = 0;
  std::vector<float> top_;
};

/// Whether a straight tape from `from` to a place on the face runs through free air: nowhere below face or flange. What
/// lies within `near` of `from` is what the tape is held to, and does not count.
bool through_air(const BenchHalf&, const Surroundings&, const Vec3& from, const Vec3& to, double near);

struct Finding {
  std::vector<TapeLine> tape;  ///< two; none where nothing finds the place well
  std::string side;            ///< where the lengths meet in several places: the one farthest to "+x", "−y"…
};
/// Two lengths that find the node: straight ones through free air if they cross well there, else over the surface, else
/// squarely in from two edges, else along the edge and squarely in. `known` stands on this half.
Finding find_place(const BenchHalf&, const Surroundings&, const std::vector<Reference>& known, int node);

}  // namespace gapfront::correct
