// Lengths over a face, as a tape measures them that is pressed to it along its whole length.
#pragma once
#include <array>
#include <optional>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::correct {

/// Where a tape begins: at a node, at a place beyond the rim (straight to the rim, then over the face), or at the
/// nearest place of some edges of the mesh.
struct TapeFrom {
  int node = -1;
  std::vector<Vec3> outside;  ///< one place, or none
  std::vector<int> edges;     ///< by number, see OverFace::rim
};

class OverFace {
 public:
  /// The mesh must outlive it.
  explicit OverFace(const Mesh&);

  struct Edge {
    int a, b;         ///< nodes, a < b
    int left, right;  ///< triangles; right is −1 on the rim
    Vec3 at(const Mesh& m, double s) const { return m.points[a] + s * (m.points[b] - m.points[a]); }
  };
  const std::vector<Edge>& edges() const { return edges_; }
  const std::vector<int>& rim() const { return rim_; }  ///< edges of one triangle only

  /// Shortest ways over the face from a place to everywhere, through points on the edges (Dijkstra 1959): longer than
  /// the true ones by up to a per cent, which `trace` takes out.
  struct Field {
    std::vector<double> far;   ///< per point on an edge; infinite: not reached
    std::vector<int> before;   ///< the point before it; −1: the start
    std::vector<double> node;  ///< per node
  };
  Field spread(const TapeFrom&) const;

  /// The line from the start to a node, pulled taut: each point slides along its edge until none moves. Empty: no way.
  std::vector<Vec3> trace(const TapeFrom&, const Field&, int node) const;

 private:
  const Mesh& mesh_;
  std::vector<Edge> edges_;
  std::vector<std::array<int, 3>> of_;  ///< per triangle: its edges; edge k is opposite to corner k
  std::vector<std::vector<int>> around_;
  std::vector<int> rim_;
  std::vector<Vec3> points_;  ///< on the edges
  const Vec3& point(int p) const { return points_[static_cast<std::size_t>(p)]; }

  struct Way {
    std::size_t first = 0;     ///< places of `line` before the first edge crossed
    std::vector<int> crossed;  ///< edges
    std::vector<Vec3> line;    ///< with a place on each of them, and the ends
  };
  void pull(const TapeFrom&, Way&, int sweeps) const;
  int beside(int edge, int other_edge, int node) const;
  std::optional<Way> around(const TapeFrom&, const Way&, std::size_t k, int caught, int node) const;
};

double length_of(const std::vector<Vec3>& line);

}  // namespace gapfront::correct
