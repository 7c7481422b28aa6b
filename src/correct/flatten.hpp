// A patch of a face laid flat, and lines on it.
#pragma once
#include "gapfront/geometry.hpp"

namespace gapfront::correct {

struct Flat {
  std::vector<Vec3> at;        ///< per point of the mesh, z = 0, mm; the side the normals point to is seen
  std::vector<double> strain;  ///< per triangle: greatest change of a length, 0.01 is 1 %
  /// Greatest change of a length over a finger's breadth, anywhere: of one triangle it is the scatter of its corners,
  /// which paper does not follow. 1 where a triangle is turned over.
  double stretch = 0;
};
/// Lays a connected patch flat as rigidly as it goes: conformal start (Lévy et al. 2002, least squares), then as rigid
/// as possible (Liu et al. 2008). Lengths are those of arcs on the curved face, not of the mesh's chords: an edge whose
/// normals turn by θ is longer than its chord by (θ/2)/sin(θ/2). Exact where the face is developable.
Flat lay_flat(const Mesh&, const std::vector<Vec3>& normals);

/// Curves where `f` (linear in the triangles) passes `level`; closed ones repeat their first point.
std::vector<std::vector<Vec3>> level_lines(const Mesh&, const std::vector<double>& f, double level);

}  // namespace gapfront::correct
