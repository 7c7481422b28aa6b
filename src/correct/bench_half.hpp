// The half that is worked, as it lies on the bench.
#pragma once
#include "gapfront/correct.hpp"

namespace gapfront::correct {

/// The half that is worked, cavity side up.
struct BenchHalf {
  Mesh face;                  ///< its moulding face
  std::vector<Vec3> normals;  ///< into the cavity
  bool upper = false;
};

/// In tool coordinates, mold closed; its normals point into the cavity, and its triangles turn about them.
BenchHalf half_of(const CorrectInput&, bool upper);

/// The node in the middle of the work: nearest to its centre, inside its outline if it has one. −1: there is none.
int middle_node(const BenchHalf&, const Correction&);

}  // namespace gapfront::correct
