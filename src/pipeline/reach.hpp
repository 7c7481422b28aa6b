// How far over the face readings of the thickness say something.
#pragma once
#include <vector>

#include "gapfront/pipeline.hpp"

namespace gapfront::pipeline {

/// What readings leave untested.
struct ReadingsReach {
  std::vector<double> beyond;  ///< per node, 0 (within) to 1 (they say nothing of it)
  double share = 0;            ///< of the face that is more beyond than within
  double across = 0;           ///< greatest distance between two readings, mm
  double farthest = 0;         ///< from a node to the nearest reading, at most, mm
  bool ample() const;          ///< little of the face is beyond
};

/// Of the readings that lie on the face.
ReadingsReach reach_of_readings(const Measured&);

/// What was put into the map by readings, mm per node, holds where they were taken; beyond their reach the truth may be
/// with it or without: U takes that in, as one error common to the nodes.
void count_beyond_reach(GapMap&, const ReadingsReach&, const std::vector<double>& change);

}  // namespace gapfront::pipeline
