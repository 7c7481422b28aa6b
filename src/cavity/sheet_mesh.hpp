// Small tools on triangle meshes that the sheet's making shares.
#pragma once
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront::cavity {

/// Angle-weighted unit normals per vertex.
std::vector<Vec3> vertex_normals(const Mesh&);
/// The same weighted by area: slivers of a cut mesh hardly count, and no angle is needed.
std::vector<Vec3> quick_normals(const Mesh&);
/// Vertices of each boundary loop, in the sense in which the triangles run along it. Needs a manifold mesh.
std::vector<std::vector<int>> boundary_loops(const Mesh&);
/// Keeps the part where field < 0, cutting triangles at the zero; sets `mark` of new vertices to `tag`.
void clip(Mesh&, const std::vector<double>& field, std::vector<char>& mark, char tag);
/// Per triangle the number of its edge-connected component, by a triangle of it.
std::vector<int> parts_of(const Mesh&);
/// Per corner 3 t + k of the triangles the number of its fan, by a corner of it: those at one vertex that follow each
/// other across sides. A vertex of a manifold has one fan.
std::vector<int> fans_of(const Mesh&);
/// Keeps the edge-connected component of the greatest area and splits vertices at which only corners meet.
void keep_largest(Mesh&, std::vector<char>& mark);
/// Vector area of a closed loop (half the sum of cross products): its length is the area of a flat loop, mm².
Vec3 loop_area(const std::vector<Vec3>& loop);
/// Of places on a face the one nearest to their mean; there must be one.
Vec3 middle_one(const std::vector<Vec3>& places);
/// Drops unused vertices, keeping the order of the others.
void drop_unused(Mesh&, std::vector<char>& mark);

}  // namespace gapfront::cavity
