// Pose of one measured surface on another: thinning, global search, refinement. Used by the method `nominal`; useful
// by itself.
#pragma once
#include <cstdint>
#include <memory>
#include <vector>

#include "gapfront/geometry.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/scan.hpp"

namespace gapfront {

/// Points with unit normals (of either sign) and weights, as registration wants them.
struct SurfacePoints {
  std::vector<Vec3> points, normals;
  std::vector<double> weights;  ///< of a point's place along its normal, relative
  double spacing = 0;           ///< mm, between neighbours
  double curve = 0;             ///< RMS misfit of the planes that gave the normals, mm: noise and curvature
};

namespace align {
/// One point per cube of side `voxel` mm (0: as they are): the mean of those inside, with weight n/(n + m) for n
/// points and the median m. Noise alone would give weight n; form errors shared by neighbours do not average, so no
/// point weighs more than twice the usual. Normals by principal axes of the 12 nearest.
SurfacePoints thin_surface(const std::vector<Vec3>& points, double voxel);

/// Points spread evenly over a mesh, about `spacing` apart, with the triangles' normals. Throws Error{input} for a mesh
/// without area.
SurfacePoints sample_mesh(const Mesh& mesh, double spacing);
}  // namespace align

/// Which distance of two surfaces is made small.
enum class PoseCost {
  point_to_plane,  ///< distance along the fixed surface's normal (Chen & Medioni 1992)
  plane_to_plane,  ///< along the sum of both normals, which is exact for equal curvature (Rusinkiewicz 2019)
};

/// How a pose is refined.
struct RefineOptions {
  PoseCost cost = PoseCost::plane_to_plane;
  double reach = 0;  ///< partners farther away are no partners, mm at the start; 0: five spacings
  int iterations = 60;
  double patch = 0;  ///< mm; residuals within a patch are taken as correlated; 0: a twelfth of the size
  /// Errors that change along the moving points: what they do to the pose is `Refined::by_fields` and no part of the
  /// covariance, which else holds what shows of it in the patches' scatter.
  std::vector<SharedNoise> fields = {};
};

/// A place that a pose rests on: a displacement δ of the moving points there, mm, makes the registration move them by
/// `response` δ about the pose's pivot. Of closed halves: a displacement of the upper half's scan against the lower's.
struct Support {
  Vec3 at = Vec3::Zero();  ///< in the frame of the fixed points; of closed halves the tool's
  Eigen::Matrix<double, 6, 3> response = Eigen::Matrix<double, 6, 3>::Zero();
};

/// A refined pose, and how well it is known.
struct Refined {
  Rigid motion = Rigid::Identity();       ///< carries the moving points onto the fixed ones
  Matrix6 covariance = Matrix6::Zero();   ///< about `pivot`, in the frame of the fixed points
  Matrix6 by_fields = Matrix6::Zero();    ///< likewise, by the options' fields alone
  Matrix6 information = Matrix6::Zero();  ///< as if every point told something of its own: only its spectrum is of use
  Vec3 pivot = Vec3::Zero();
  std::vector<Support> supports;  ///< a patch each: its middle, and all its points displaced alike
  double rms = 0;                 ///< weighted, robust RMS distance, mm
  double overlap = 0;             ///< share of the moving points that have a partner
  int iterations = 0;
  bool converged = false;
};

/// Robust refinement from a pose that is already near: Gauss–Newton on SE(3) with analytic Jacobians, Geman–McClure
/// weights whose scale follows the residuals' median, partners refused when they are too far, when their normals differ
/// by more than 45°, or when they lie on the fixed surface's edge. The covariance is the cluster-robust ("sandwich")
/// one over patches (Liang & Zeger 1986): neighbours share their form errors, so counting points would promise far too
/// much; form errors wider than a patch are not covered. Deterministic for any number of threads.
class PoseRefiner {
 public:
  /// Six points at the least.
  explicit PoseRefiner(SurfacePoints fixed);
  ~PoseRefiner();
  /// From a start that is near; motion and covariance in the frame of the fixed points.
  Refined refine(const SurfacePoints& moving, const Rigid& start, const RefineOptions& = {}) const;

 private:
  struct Tree;
  SurfacePoints fixed_;
  std::vector<char> edge_;
  std::unique_ptr<Tree> tree_;
};

/// A pose that the search found.
struct PoseCandidate {
  Rigid motion = Rigid::Identity();
  double score = 0;  ///< 0 to 1: share of the moving points that lie on the fixed surface, nearer ones counting more
};

/// How poses are searched.
struct SearchOptions {
  int points = 700;     ///< of each surface that take part
  int candidates = 12;  ///< refined and returned at most
  std::uint64_t seed = 1;
};

namespace align {
/// Poses of `moving` on `fixed` from any start, best first: voting with point-pair features (after Drost, Ulrich, Navab
/// & Ilic 2010; here with unsigned normals), a coarse refinement and a consensus check of each. Poses that differ by
/// less than 5° and a twentieth of the size are one.
std::vector<PoseCandidate> find_poses(const SurfacePoints& fixed, const SurfacePoints& moving,
                                      const SearchOptions& = {}, const Progress& = {});

/// Score of the second best over the best: near 1 the surface looks the same in two poses (a symmetric tool).
double ambiguity(const std::vector<PoseCandidate>&);
}  // namespace align

}  // namespace gapfront
