// What changed between two inspections on one sheet, apart from how the halves sit.
#pragma once
#include "core/area_mean.hpp"
#include "gapfront/recheck.hpp"
#include "gapfront/rigid_part.hpp"
#include "history/frame_transform.hpp"

namespace gapfront::history {

struct Drift {
  GapMap map;                 ///< gap = change; uncertainties of the difference; registrations of both added
  std::vector<double> value;  ///< change per node, mm; NaN where either date has no measurement
  std::vector<double> rest;   ///< without the rigid part
  RigidFit rigid;
  double rigid_p = 1;  ///< chance of so large a rigid part if nothing moved (χ², 3 degrees of freedom)
  bool held = false;   ///< no rigid part is taken out: the registration at both dates says how the halves sit
  FrameTransform carry;
  SharedFits shared;  ///< of `map`
  /// h of a sum over the nodes, with what the rigid part takes along.
  std::vector<double> on_rest(const Sheet&, std::vector<double> h) const;
  /// Standard uncertainty of Σ h·rest by the fits and by what is common to all nodes, the fits' raised by `inflation`.
  double u(const Sheet&, const std::vector<double>& h_on_rest, double inflation) const;
};
/// Instrument error drops out when both dates name the same instrument. Nodes marked in `worn` (none, or one mark per
/// node) have no say in the rigid part: a wear too small to be an outlier would be taken for a motion in part.
Drift drift_of(const Sheet&, const Record& now, const Record& then, const std::vector<char>& worn = {});
/// The same with nothing taken out, where the registrations are to be believed: a robust rigid part takes wear of most
/// of the face for a motion. What they are not known to stays in the uncertainties.
Drift held_drift(const Sheet&, const Record& now, const Record& then);

/// Covariance of a rigid part of it (offset and tilts), fitted over all of the sheet or some: by fits, registration,
/// instrument and carrying; and χ² of that part against it, 3 degrees of freedom.
Eigen::Matrix3d rigid_covariance(const Sheet&, const Drift&, const RigidFit&);
double rigid_chi2(const Sheet&, const Drift&, const RigidFit&);

/// A change that noise does not explain.
struct Place {
  std::vector<int> nodes;
  int top = -1;  ///< where it stands out most
  double sign = 1, level = 0;
};
struct Found {
  std::vector<Place> places;
  std::vector<char> worn;                                     ///< per node: in a place or on its skirt
  std::array<std::vector<double>, FieldNull::scales> smooth;  ///< of the rest, in units of its own fit uncertainty
  double inflation = 1;
  double detects = 0;  ///< mm
};
Found find_places(const Sheet&, const Drift&, const FieldNull&, double min_area);

}  // namespace gapfront::history
