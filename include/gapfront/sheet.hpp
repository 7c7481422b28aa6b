// The sheet on which the cavity is described, and the gap on it: what every later stage works on.
#pragma once
#include <algorithm>
#include <cmath>
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront {

/// One node per cavity place.
struct Sheet {
  Mesh mesh;
  std::vector<Vec3> normals;                        ///< unit, from the lower face into the cavity
  std::vector<double> area;                         ///< a third of the triangles around the node, mm²
  std::vector<char> rim;                            ///< 1 on the outer boundary (seal line)
  double min_angle_deg = 0;                         ///< smallest angle of the best 99 % of triangles
  double edge_p05 = 0, edge_p50 = 0, edge_p95 = 0;  ///< spread of the edge lengths: 5 %, half, 95 % are shorter, mm
  double uncovered_area = 0;                        ///< inside the seal line, not covered by the lower scan, mm²
  /// Per node: 1 where the lower scan covers it. 0: inside the seal, but its place is only a guess from what lies
  /// around or from the upper half; its gap is not measured. Empty: all are covered.
  std::vector<char> covered;
  double masked_area = 0;  ///< left out by masks, mm²
  /// Inside the seal line and not covered, but without nodes (a hole that could not be filled, a piece apart).
  struct Lost {
    Vec3 centre = Vec3::Zero();
    double area = 0;  ///< mm²; part of `uncovered_area`
  };
  std::vector<Lost> lost;
  /// Per node of a sheet that was given, not built: 1 where a mask covers it, so that nothing is judged there. Empty:
  /// none.
  std::vector<char> masked;
  std::size_t size() const { return mesh.points.size(); }  ///< number of nodes
};
/// Nothing is judged at this node.
inline bool is_masked(const Sheet& s, std::size_t i) { return !s.masked.empty() && s.masked[i]; }

/// The gap at one node.
struct NodeGap {
  bool measured = false;
  double gap = 0;                  ///< balanced two-sided ball diameter, mm; negative: the halves interpenetrate
  double along_normal = 0;         ///< length along the lower normal, mm
  Vec3 mid = Vec3::Zero();         ///< mid-point of the cavity
  Vec3 direction = Vec3::UnitZ();  ///< unit, lower to upper
  double u_lower = 0, u_upper = 0, u_instrument = 0, u_registration = 0, u_temperature = 0;  ///< mm, 1σ
  double U = 0;                                                                              ///< expanded, mm
  double fit_area = 0;  ///< of the face that the noise is averaged over, mm²: fits nearer than that are not independent
};

/// A gap at every node, measured or not.
struct AssumedGap {
  std::vector<double> gap;  ///< per node, mm
  std::vector<double> u;    ///< 1σ of not having been measured, mm, 0 where it was; empty: all is measured, or nothing
  double length = 0;        ///< over which what is assumed is off alike: as far as a node is from a measured one, mm
};

/// Marks of what is of one half, in GapMap::made_up.
constexpr char kOfLower = 1, kOfUpper = 2;

/// The gap at every node of a sheet.
struct GapMap {
  std::vector<NodeGap> nodes;              ///< one per sheet node
  Matrix6 registration = Matrix6::Zero();  ///< covariance of the upper half's motion about `pivot`
  Vec3 pivot = Vec3::Zero();
  /// Errors that change along the sheet, as of a scan's warp and the steps between its passes: a row per node, a column
  /// per independent cause, what one standard deviation of it does to the gap, mm. They are part of `u_instrument`, the
  /// rest of which is one error common to all nodes. No columns: none.
  Eigen::MatrixXd shapes;
  double coverage = 2;
  double unmeasured_area = 0;  ///< of the whole inside the seal line, mm²: `unseen`, and what the sheet has lost
  /// Per node, mm²: the area its gap speaks for, and the part of its cell that is not measured because either scan has
  /// a hole there (of the lower, of the upper scan). Empty: a measured node speaks for its cell.
  std::vector<double> judged, unseen, unseen_lower, unseen_upper;
  /// Per node: kOfLower where the lower scan shows points that a program has filled in, kOfUpper where the upper does,
  /// their sum where both do; they are no measurement. Empty: none are found.
  std::vector<char> made_up;
  /// What fillings take where none was measured, see cavity::assume_gap(). Empty: the nominal gap.
  AssumedGap assumed;
  /// A node's gap for fillings, mm; `nominal`: there.
  double flow_gap(std::size_t i, double nominal) const {
    return nodes[i].measured ? nodes[i].gap : assumed.gap.empty() ? nominal : assumed.gap[i];
  }
  /// What of a node's `u_instrument` is one error common to all nodes, mm.
  double common_instrument(std::size_t i) const {
    const double u = nodes[i].u_instrument;
    return shapes.cols() == 0 ? u : std::sqrt(std::max(0.0, u * u - shapes.row(Eigen::Index(i)).squaredNorm()));
  }
  /// Area that a node's gap speaks for, mm².
  double judged_area(const Sheet& s, std::size_t i) const {
    return judged.empty() ? (nodes[i].measured ? s.area[i] : 0) : judged[i];
  }
  /// Area of a node's cell that is not measured, mm².
  double unseen_area(const Sheet& s, std::size_t i) const {
    return unseen.empty() ? (nodes[i].measured ? 0 : s.area[i]) : unseen[i];
  }
};

}  // namespace gapfront
