// What lies between points that are far apart, as a probe's are.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// Scanners stand at a millimetre or less; farther apart than this, points were touched one by one, mm.
inline constexpr double kTouchedOneByOne = 3;

/// What a local defect can hide behind, on either face.
struct BetweenPoints {
  double lower = 0, upper = 0;  ///< spacing of the scans, mm
  double largest = 0;           ///< diameter of the largest disc about a node without a point, mm
  /// Chance that a defect of this diameter, mm, at a random place holds no point of its face; of the face where it is
  /// more.
  double unseen(double diameter) const;
  struct Place {
    double lower, upper, area;  ///< to the nearest point of either scan, mm; mm²
  };
  std::vector<Place> places;
};
BetweenPoints between_points(const Sheet&, const GapMap&, const ClosedHalves&);

/// Says it where points are far apart; and takes back "conforming" where what decides could lie between them.
void hold_verdict_to_points(Measured&);

}  // namespace gapfront::pipeline
