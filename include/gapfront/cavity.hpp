// The sheet on which the cavity is described, and the gap on it with its uncertainty.
#pragma once
#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/align.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/message.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/sheet.hpp"

namespace gapfront {

/// A scanned half in the tool frame, searchable. Cheap to copy (shared, immutable).
class Surface {
 public:
  /// Points in the tool frame, mm. Throws Error{Fault::input} for none, for one that is not finite, and for a spacing
  /// that is not positive.
  Surface(std::vector<Vec3> points, const Sampling&);
  const std::vector<Vec3>& points() const;  ///< tool frame, mm
  double spacing() const;                   ///< mm
  double noise() const;                     ///< mm
  const SharedNoise& shared() const;        ///< what neighbouring points have in common
  /// Indices of the points within `radius` of p, in ascending order of distance.
  std::vector<int> within(const Vec3& p, double radius) const;
  /// The same in no particular order, into a list that is re-used (no allocation in inner loops).
  void within(const Vec3& p, double radius, std::vector<int>& found) const;
  /// A point found: which, how far, and where; index −1 where there is none.
  struct Found {
    int index = -1;
    double distance = 0;
    Vec3 point = Vec3::Zero();
  };
  /// The point nearest to p; where several are, to a nanometre, one of them.
  Found nearest(const Vec3& p) const;
  /// The same if it is nearer than `bound`, else index −1: an empty ball is found empty without a long search.
  Found nearest(const Vec3& p, double bound) const;

 private:
  friend struct SurfaceReader;  // of the fits, which read coordinates without copies
  struct Impl;
  std::shared_ptr<const Impl> impl_;
};

/// Robust local quadric fit of a Surface near a place.
struct LocalFit {
  bool ok = false;
  Vec3 point = Vec3::Zero();    ///< foot point on the fitted surface
  Vec3 normal = Vec3::UnitZ();  ///< unit, on the side of the hint
  double u = 0;           ///< standard uncertainty of the surface position along the normal (noise and truncation), mm
  double k1 = 0, k2 = 0;  ///< principal curvatures, 1/mm; positive: centre on the normal side
  int used = 0;
};

namespace cavity {
/// Foot point of `at` on the surface whose normal agrees with `hint` (points of other walls are left out).
LocalFit fit_local(const Surface&, const Vec3& at, const Vec3& hint, double radius);

/// Tip centres of a probe carried by `radius` mm onto the face they touched: away from the cavity, which is on the side
/// of `other`, along the fitted normal. Throws Error{Fault::measurement} where too few points carry a fit.
std::vector<Vec3> compensate_tip_radius(const Surface& centres, const Surface& other, double radius);

/// A nominal mesh as if it had been scanned without noise, with `spacing` mm from point to point.
Surface surface_of(const Mesh&, double spacing);
}  // namespace cavity

/// What stands on a half and is no moulding face: a tooling ball and its seat, a dowel. The sheet leaves out all within
/// `radius` of `centre` (tool frame, mm).
struct Mask {
  std::string name;
  Vec3 centre = Vec3::Zero();
  double radius = 0;
};

namespace cavity {
/// The masks of an alignment's marks. A ball: 1.5 diameters about its centre, which takes in its seat, the shadow that
/// it throws for the scanner, and the fits that would lean on its points. A plain point: 15 mm, the same for a dowel of
/// 10 mm (a usual size: common practice, no source). Marks nearer than a millimetre to an earlier one, as the other
/// half's view of the same ball, are not repeated.
std::vector<Mask> masks_of(const Alignment&);
}  // namespace cavity

/// How the sheet is made.
struct SheetOptions {
  double edge = 8;                         ///< target edge length, mm
  double min_edge = 1.5;                   ///< floor at tight radii, mm
  std::vector<Vec3> seal;                  ///< closed polyline in tool coordinates; empty: the whole lower face
  std::vector<std::vector<Vec3>> islands;  ///< closed polylines inside the seal that are no cavity (an insert, a core)
  std::vector<Mask> masks;
};

namespace cavity {
/// Reconstructs the moulding face of the lower half inside the seal line: manifold, quasi-uniform, finer
/// where curvature is high (edge ≤ radius/3, not below min_edge). The upper half orients the normals. Both halves in
/// the tool frame, closed. Throws Error{Fault::input} for edges that are none, and Error{Fault::measurement} when the
/// scan has no connected surface inside the seal line.
Sheet build_sheet(const Surface& lower, const Surface& upper, const SheetOptions&, const Progress& = {});
/// Completes a Sheet (normals, areas, rim, quality) for a mesh that is already given, in mm, wound counter-clockwise
/// seen from the cavity. Throws Error{Fault::measurement} for one that is no manifold.
Sheet make_sheet(Mesh);
/// For a sheet that was given: marks the nodes inside masks, and adds their area to what is masked.
void mask_nodes(Sheet&, const std::vector<Mask>&);
/// The masks that cut into the sheet or lie within it.
std::vector<Mask> masks_on_sheet(const Sheet&, const std::vector<Mask>&);
}  // namespace cavity

/// How the gap is measured.
struct GapOptions {
  double nominal = 3;          ///< expected gap, mm: starting guess and search bound
  double max_gap = 0;          ///< mm; 0: 4 × nominal
  double fit_radius = 0;       ///< mm; 0: chosen from the spacing
  double u_instrument = 0.01;  ///< standard uncertainty of a scan's systematic error, mm (declared)
  double u_temperature = 0;    ///< standard uncertainty by thermal growth across the gap, mm
  double coverage = 2;         ///< k in U = k·u
  /// Looks for points that a program has filled in, see GapMap::made_up. Not in scans whose coordinates are rounded to
  /// more than their noise: a flat face along an axis has none there.
  bool find_made_up = true;
};

/// Whose scan leaves a place out; `neither`: both cover it, but no gap could be measured.
enum class Missing { lower, upper, both, neither };
const char* to_string(Missing);

namespace cavity {
/// The same in words: why a place is not measured.
Message why_missing(Missing);
}  // namespace cavity

/// A connected part of the cavity that is not measured.
struct UnseenPlace {
  Vec3 centre = Vec3::Zero();  ///< its middle; where that lies beside the place, the node that is nearest to it
  double area = 0;             ///< mm²
  Missing missing = Missing::lower;
  std::vector<int> nodes;  ///< whose cells it takes part of; none where the sheet has none
  double reach = 0;        ///< from the centre to the farthest of them, mm
};

/// A connected part of the cavity where a half bends more sharply than its scan resolves: a ridge, a groove or an edge
/// narrower than some six spacings.
struct NarrowPlace {
  /// Which half.
  enum class Half { lower, upper };
  Vec3 at = Vec3::Zero();  ///< the node nearest to its middle
  double length = 0;       ///< from end to end, mm
  double U = 0;            ///< greatest there, mm; 0: nothing is measured
};

/// A local defect where no scan looked: nothing beside the hole tells of it.
struct HiddenDefect {
  std::vector<double> u;  ///< per node, 1σ of what it does to the gap, mm; empty: none is allowed for
  double across = 0;      ///< mm; half of that into a hole all of it may hide, nearer to the rim as much less
};

namespace cavity {
/// Those of one half, whose surface this is, the longest first. What is not measured though both scans cover it belongs
/// to a place that it touches.
std::vector<NarrowPlace> narrow_places(const Sheet&, const GapMap&, NarrowPlace::Half, const Surface&);
/// Those among the given nodes (indices into the sheet), the largest first.
std::vector<UnseenPlace> unseen_places(const Sheet&, const GapMap&, const std::vector<int>& nodes);
/// The gap at every node, mm, with its uncertainty: both halves in the tool frame, closed by `alignment`, of which the
/// covariance counts. Throws Error{Fault::input} for options or a sheet that nothing can be measured with, and
/// Error{Fault::measurement} when no node sees both halves.
GapMap measure_gap(const Sheet&, const Surface& lower, const Surface& upper, const Alignment&, const GapOptions&,
                   const Progress& = {});
/// The gap that a filling takes at nodes without a measured one: the nominal, off by what the measured nodes around are
/// off, see stretch_over(). As its standard uncertainty stands how much deviations that were measured differ over the
/// distance to the nearest measured node (their structure function), and no less than what a hidden defect may do; a
/// part of the sheet without any measured node is nominal, with the largest u that there is. Nominal without u where
/// nothing at all is measured.
AssumedGap assume_gap(const Sheet&, const GapMap&, const std::vector<double>& nominal, const HiddenDefect& = {});
/// Carries values of measured nodes to the others, as a membrane between them: each of those is the mean of its
/// neighbours, the near ones weighing more. Nothing (0) in a part of the sheet without a measured node. Returns which
/// nodes have a value: measured ones and those that were reached.
std::vector<char> stretch_over(const Sheet&, const GapMap&, std::vector<double>& value);
/// The gap at one place by the same method (start near the lower face with the lower normal as hint).
NodeGap measure_gap_at(const Surface& lower, const Surface& upper, const Vec3& at, const Vec3& normal,
                       const GapOptions&);

/// The gap between two nominal surfaces at every node by the same ball, mm. Where it cannot be measured (an edge
/// without a radius) it comes from the nodes around. Throws Error{Fault::measurement} where most of the sheet has none.
std::vector<double> nominal_surfaces_gap(const Sheet&, const Surface& lower, const Surface& upper, const GapOptions&,
                                         const Progress& = {});
}  // namespace cavity

/// One half seen as two surfaces, one behind the other, with nothing of the other half between them: a pass that was
/// shifted, a mirror image, or the back of a thin half. Which of them is the face cannot be told from the points.
struct SecondLayer {
  /// Which half.
  enum class Half { lower, upper };
  Half half = Half::lower;  ///< whose scan shows it, the one that does over more
  double fraction = 0;      ///< of the sheet (or of the places looked at) where it does; 0: nowhere
  double distance = 0;      ///< median, between the two surfaces, mm
  Vec3 at = Vec3::Zero();   ///< a place in the middle of the largest connected part, tool frame
};

/// Distances between two surfaces that are looked for, mm.
struct LayerRange {
  double least = 0;  ///< nearer ones shift the face by half of it at most, which is for U to cover
  double most = 0;   ///< farther ones are other walls of the tool, that no fit sees
};

namespace cavity {
/// Looks along the normal of every node. Connected parts below 1 cm² or four nodes are left out: edges and corners look
/// so. Layers nearer to each other than a fifth of the distance between their points cannot be told from scatter.
/// Throws nothing.
SecondLayer find_second_layer(const Sheet&, const Surface& lower, const Surface& upper, const LayerRange&);
/// The same before there is a sheet, or where none could be made: at a sample of the lower scan's points.
SecondLayer find_second_layer(const Surface& lower, const Surface& upper, const LayerRange&);
/// The same for layers so near to each other that only the scatter about the fits shows them: it falls into two heaps,
/// each no wider than the scan's own noise, whose points lie side by side in no order. A wave, a step or a rough place
/// scatters in one heap, or in an order. Looks at measured nodes. Of each half that shows it, the larger one first:
/// what is declared of one says nothing of the other. Throws nothing.
std::vector<SecondLayer> find_close_layers(const Sheet&, const GapMap&, const Surface& lower, const Surface& upper,
                                           double most);
}  // namespace cavity

/// A reading of the thickness with the mold clamped (clay, wax, lead, part).
struct SpotReading {
  std::string name;
  Vec3 at;
  double thickness, U;
};
/// One reading beside the map.
struct SpotComparison {
  std::string name;
  double map, map_U, reading, reading_U, En;
  bool found;
};

namespace cavity {
/// En = |map − reading| / sqrt(U² + U²) (ISO 13528); nearest measured node within two edges.
std::vector<SpotComparison> compare_spots(const Sheet&, const GapMap&, const std::vector<SpotReading>&);
}  // namespace cavity

/// What map − reading has in common over all readings: the upper half seated by a small rigid motion (a shift along
/// the opening axis and two tilts) otherwise than the registration says. Found and tested, never applied.
struct SpotShift {
  int readings = 0;           ///< that found a node
  int parameters = 0;         ///< 0: too few readings; 1: shift only; 3: shift and two tilts
  Vec3 pivot = Vec3::Zero();  ///< weighted mean of the readings' places; `offset` holds there
  Vec3 axis = Vec3::UnitZ();  ///< unit, mean direction of the gap over the sheet
  double offset = 0;          ///< along `axis`; positive: the map shows more gap than the readings, mm
  double offset_U = 0;        ///< expanded by the independent parts (k of the map), mm
  Vec3 tilt = Vec3::Zero();   ///< rotation vector across `axis`, rad
  double chi2 = 0;            ///< of shift and tilts against the independent parts of U
  double residual_chi2 = 0;   ///< of what they leave, readings − parameters degrees of freedom
  double p = 1;               ///< chance of so large a motion if there is none (χ², or F where residuals exceed U)
  double p_tilt = 1;          ///< the same for the tilts beside the shift
  double p_beyond = 1;        ///< the same when registration, instrument and temperature may explain it too
  /// Covariance of (offset, tilt x, y, z): readings and fits, scaled up where the residuals exceed their U.
  Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();
  bool removed = false;  ///< the map was corrected by it, see `remove_shift`
  /// Share of the gap at a node that the motion accounts for, mm: subtract it to remove the motion.
  double at(const NodeGap&) const;
};

namespace cavity {
/// Weighted least squares on map − reading, weights from the independent parts (fits and readings, U taken at the
/// map's coverage factor). Tests: likelihood ratio, χ² with known U; F where the residuals are larger than U says.
/// Below 5 readings, or with all of them in a row, only the shift is sought; below 2 nothing.
SpotShift spot_shift(const Sheet&, const GapMap&, const std::vector<SpotReading>&);
/// Takes the motion out of the map: gaps, and U, which gains what the motion itself is not known to. The registration
/// keeps its own share, so that U errs to the safe side. Does nothing where no motion was sought.
void remove_shift(GapMap&, SpotShift&);
}  // namespace cavity

}  // namespace gapfront
