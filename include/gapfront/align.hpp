// Registration of both halves into the closed position, in the tool frame.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/geometry.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/scan.hpp"

namespace gapfront {

/// A named mark that is at the same place in both halves when the mold is closed: a plain point, or a
/// tooling ball whose centre is fitted from the scan points near a rough place.
struct Target {
  std::string name;
  std::optional<double> ball;  ///< diameter, mm; unset: the places below are exact points
  std::optional<Vec3> lower;   ///< in the lower scan's frame
  std::optional<Vec3> upper;   ///< in the upper scan's frame
  std::optional<Vec3> tool;    ///< in the tool frame, if the tool has datum coordinates
  std::optional<double> u;     ///< standard uncertainty per coordinate, mm; unset: from the fit and the noise
};

enum class AlignMethod {
  given,    ///< the scans already share the tool frame, closed
  targets,  ///< targets seen in both scans
  flange,   ///< mating lands in contact or at the stand-off; in-plane from targets
  nominal,  ///< each half to the nominal surface
};

struct AlignOptions {
  std::vector<AlignMethod> methods{AlignMethod::targets};
  std::vector<Target> targets;
  std::optional<double> given_u;       ///< for `given`: standard uncertainty of the closed position, mm
  std::optional<Region> flange_lower;  ///< flange lands, lower half, tool frame
  double stand_off = 0;                ///< mm between the lands when closed
  /// A target whose places still differ by more than this after the fit is a wrong name or place, not noise, mm.
  double residual_limit = 1;
};

struct TargetResidual {
  std::string name;
  Vec3 residual = Vec3::Zero();            ///< upper − lower after the fit, tool frame, mm
  double lower_form = 0, upper_form = 0;   ///< RMS of the ball fits, mm (0 for points)
  int lower_points = 0, upper_points = 0;  ///< scan points used
  double leave_one_out = 0;   ///< miss of this target when predicted by the others, mm (0: fewer than 4 targets)
  Vec3 place = Vec3::Zero();  ///< tool frame
};

struct Alignment {
  Rigid lower_to_tool = Rigid::Identity();
  Rigid upper_to_tool = Rigid::Identity();
  /// Covariance of the upper half's small motion (tx,ty,tz in mm, rx,ry,rz in rad) about `pivot`, tool frame:
  /// the motion carries a point x of the upper half to x' = x + t + r × (x − pivot).
  Matrix6 covariance = Matrix6::Zero();
  Vec3 pivot = Vec3::Zero();
  double fit_rms = 0;  ///< RMS target residual, mm; says nothing about error elsewhere
  std::vector<TargetResidual> residuals;
  double scale_ppm = 0, scale_ppm_u = 0;  ///< apparent scale upper/lower − 1 and its standard uncertainty, ppm
  std::string method;                     ///< in words
  std::vector<std::string> warnings;
  /// Standard uncertainty of the upper half's position at p along direction d, mm (eq. 17 generalised).
  double u_at(const Vec3& p, const Vec3& d) const;
};

/// Throws Error{Fault::measurement} naming the free directions when the constraint is too weak, and
/// Error{Fault::input} for a target that is missing, empty or given twice.
Alignment align(const Scan& lower, const Scan& upper, const AlignOptions&, double noise_lower, double noise_upper,
                const Progress& = {});

/// Weighted rigid fit by SVD (Arun, Huang & Blostein 1987; reflection fix Umeyama 1991): the motion that
/// carries `from` onto `to`. Weights empty: all equal.
Rigid fit_rigid(const std::vector<Vec3>& from, const std::vector<Vec3>& to, const std::vector<double>& weights = {});

struct SphereFit {
  Vec3 centre = Vec3::Zero();
  double radius = 0, rms = 0;  ///< mm; rms of the distances to the sphere of the points used
  int used = 0;                ///< points used; 0: no ball was found
  double u_centre = 0;         ///< standard uncertainty of the centre, root of the mean variance of its coordinates, mm
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();  ///< of the centre, mm²
};
/// Robust least-squares sphere of given radius (or free when radius ≤ 0) near `rough`, mm. With a given radius the
/// centre may be up to 1.2 radii from `rough`, and what the ball stands on, clutter and stray points are left out;
/// with a free radius all points are searched. The result is the plain least-squares sphere of the points kept.
/// Finding nothing is no error: `used` is then 0. `noise`: standard deviation of a point along the normal, mm.
SphereFit fit_sphere(const std::vector<Vec3>& points, const Vec3& rough, double radius, double noise);

}  // namespace gapfront
