// Tooling balls and dowels of unknown size found in two scans, and matched between them.
#pragma once
#include <string>
#include <vector>
#include "gapfront/align.hpp"

namespace gapfront {

/// A ball in a scan.
struct FoundBall {
  ScanPlace centre;
  double measured = 0, u = 0;  ///< diameter by a free fit, and its standard uncertainty, mm
  double diameter = 0;  ///< a usual size where the measured one is within its uncertainty of it, else as measured
  int points = 0;
};

/// mm.
struct DiameterRange {
  double min = 4, max = 60;
};

namespace align {
/// Balls of these diameters, most points first: normals vote for centres at radii a fifth apart,
/// each peak is fitted with a free radius, and what shows at least half of a hemisphere is kept. Balls of fewer than
/// about four points across cannot be told from clutter and are not looked for.
std::vector<FoundBall> search_balls(const std::vector<Vec3>& points, const Sampling&, const DiameterRange& = {});

/// Of a ball as `measured`, mm: whole millimetres, or the fractions of an inch that balls are sold in; as measured
/// where neither is within 3 `u` (at least 0.05 mm, for a scanner's own error on a shiny ball; own choice).
double usual_diameter(const FoundBall&);
}  // namespace align

/// Balls of one size that one rigid motion carries from half to half, as targets B1, B2… in the order in which they lie
/// round their middle.
struct BallPairs {
  std::vector<Target> targets;  ///< empty unless 3 or more match in one way
  int ways = 0;                 ///< in which so many match; more than one: their distances repeat
};

namespace align {
/// By their distances to each other.
BallPairs pair_balls(const std::vector<FoundBall>& lower, const std::vector<FoundBall>& upper);
}  // namespace align

/// A dowel, or a hole, square to the land around it.
struct FoundDowel {
  ScanPlace at;                       ///< where its axis crosses the land
  Vec3 axis = Vec3::UnitZ();          ///< in the scan's frame
  double measured = 0, diameter = 0;  ///< mm; as of a ball
  int points = 0;
};

namespace align {
/// Dowels and holes from 4 to 32 mm in diameter on the three largest planes of a scan, most points first: what stands
/// off a plane in a patch of that size and is round seen along the normal is fitted, see `Target::dowel`.
std::vector<FoundDowel> search_dowels(const std::vector<Vec3>& points, const Sampling&);

/// Those of both halves that lie on each other when closed, as targets D1, D2…: axes within 0.5 mm, and the lands
/// there within 0.1 mm of touching (own choice: more than a scanner's error, less than a shim).
std::vector<Target> pair_dowels(const std::vector<FoundDowel>& lower, const std::vector<FoundDowel>& upper,
                                const Rigid& upper_to_lower);
}  // namespace align

}  // namespace gapfront
