// The sheet as a network of control volumes joined by conductances.
#pragma once
#include <array>
#include <vector>

#include "gapfront/flow.hpp"

namespace gapfront::flow {

/// What the networks of a sheet have in common, whatever lies in it: made once for many fillings.
struct Links {
  explicit Links(const Sheet&);
  std::vector<int> start, to;  ///< row i, the neighbours of node i, ascending: entries start[i] … start[i+1]−1
  std::vector<Vec3> way;       ///< per entry, from node to neighbour, mm
  std::vector<double> length;  ///< of that, mm
  /// A triangle with a corner at the node: the entries that lead to its other corners, and twice its area, mm².
  struct Fan {
    int a, b;
    double twice;
  };
  std::vector<int> fan_start;  ///< node i: fan_start[i] … fan_start[i+1]−1
  std::vector<Fan> fan;
  /// The side from a triangle's corner k to the next: its two entries, and what joins them there at a conductance of 1.
  struct Side {
    int there, back;
    double unit;
  };
  std::vector<std::array<Side, 3>> sides;  ///< per triangle; `there` is −1 in one without area
};

/// Symmetric graph in compressed rows: flow from i to j is t·(p_i − p_j)/µ.
struct Network {
  std::vector<int> start, to;  ///< row i: entries start[i] … start[i+1]−1
  std::vector<double> t;       ///< mm³, from linear elements (may be slightly negative on obtuse triangles)
  std::vector<double> volume;  ///< resin a node's control volume takes, mm³
  std::vector<double> reach;  ///< 2 × conductance / resin per area: distance² to the front per pressure integral, mm²
  std::vector<double> width;  ///< root of the control volume's area, mm
  int size() const { return static_cast<int>(volume.size()); }
};
Network build_network(const Links&, const Sheet&, const LaminateMap&);
/// Perimeter runners whose section is given join the nodes of the rim, and hold resin themselves.
void add_runners(Network&, const Sheet&, const std::vector<Inlet>&);

/// Share of a control volume that lies upstream of its node when the front comes along `direction` (unit): when so
/// much of it is filled, the front stands at the node.
double fraction_upstream(const Links&, int node, const Vec3& direction);

/// What of a control volume lies in the mouth of a vent.
struct Mouth {
  int node;
  double share;  ///< of its area, (0, 1]
};

/// Nodes of each inlet and vent; throws Error{Fault::input} naming what is missing.
struct Ports {
  std::vector<int> inlet;                        ///< all inlet nodes, ascending
  std::vector<std::vector<int>> vents;           ///< per vent, ascending
  std::vector<std::vector<Mouth>> mouths;        ///< per vent, by node: a mouth is no larger on a coarser mesh
  std::vector<char> in_mouths(int nodes) const;  ///< per node, whether any of it lies in one
};
Ports find_ports(const Sheet&, const FlowOptions&);

}  // namespace gapfront::flow
