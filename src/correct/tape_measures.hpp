// Lengths by which a place on a half can be found: each to something a tape is held to.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "correct/find_place.hpp"

namespace gapfront::correct {

/// A length with what the choice needs of it.
struct TapeMeasure {
  TapeLine tape;
  double cost = 0;
  int axis = -1;               ///< of an edge: 0 towards ±x, 1 towards ±y
  Vec3 grows = Vec3::Zero();   ///< change of the length by a step on the face
  std::vector<double> length;  ///< per node
};

/// Straight, through free air, from what stands on the half.
std::vector<TapeMeasure> straight_measures(const BenchHalf&, const Surroundings&, const std::vector<Reference>& known,
                                           int node);
/// Over the surface from what stands flat on the flange beside the face, or on the face.
std::vector<TapeMeasure> surface_measures(const BenchHalf&, const OverFace&, const std::vector<Reference>& known,
                                          int node);
/// Squarely in from the sides of the rim that face along the tool axes.
std::vector<TapeMeasure> edge_measures(const BenchHalf&, const OverFace&, int node);

/// The way to a place of which no pair of those is sure: along the edge of the moulding face, then squarely in.
struct AlongAndIn {
  TapeLine along, in;
  double off;  ///< mm, from what stands on the tool to where the first begins
};
/// Nothing where the face has no way in, or the edge no way along.
std::optional<AlongAndIn> along_edge_and_in(const BenchHalf&, const OverFace&, const std::vector<Reference>& known,
                                            int node);

}  // namespace gapfront::correct
