// Which part of a mesh a scan covers, by area: holes between nodes are seen as well as holes with nodes in them.
#pragma once
#include <cstdint>
#include <vector>
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// A triangle is cut into k² small ones (k ≤ 8, so that one bit each fits in a word).
struct Cut {
  int k = 1;
  int size() const { return k * k; }
  /// Barycentric coordinates of the middle of small triangle `i`.
  Vec3 at(int i) const;
  /// The small triangle in which such coordinates lie.
  int holding(const Vec3& barycentric) const;
};

/// Where the scan has a hole: a disc of `radius`, on the mesh, without a point of the scan.
struct Holes {
  double radius = 0;
  std::vector<Cut> cut;             ///< per triangle
  std::vector<std::uint64_t> bare;  ///< per triangle: a bit for each small one that lies in a hole
  std::vector<char> node;           ///< 1 for each vertex that lies in a hole
  bool bare_at(std::size_t triangle, int i) const { return bare[triangle] >> i & 1; }
};

/// `places` are the mesh's vertices on the face that was scanned, `normals` its normals there. A point counts as being
/// on the face up to `slack` mm beyond what noise and the chords of the mesh explain.
Holes find_holes(const Mesh&, const std::vector<Vec3>& places, const std::vector<Vec3>& normals, const Surface& scan,
                 double slack);

/// Area of each vertex's cell that lies in holes of either, mm². Both are of this mesh.
std::vector<double> bare_area(const Mesh&, const Holes&, const Holes&);

/// Sheet nodes in holes of either scan lose their gap, and the map gets what it speaks for: `judged`, `unseen`,
/// `unseen_lower`, `unseen_upper`. `nominal`: gap, mm, at which the upper face is looked for where none was measured.
void take_coverage(const Sheet&, const Holes& lower, const Surface& upper, double nominal, GapMap&);

/// Where both scans cover a place of four nodes or more that the fits do not resolve (1 per node), the face bends too
/// tightly for them; a node at its edge is measured by what is left of points that say too little, and is not to be
/// trusted either. Such nodes lose their gap; whether there are any. Asks for the map's coverage, which has to be taken
/// again then. Where a gap is wider than what is looked for, its edge is measured as well as any place.
bool drop_edge_of_bends(const Sheet&, const std::vector<char>& unresolved, GapMap&);

}  // namespace gapfront::cavity
