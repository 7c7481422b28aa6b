// Registration of both halves into the closed position, in the tool frame.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/geometry.hpp"
#include "gapfront/message.hpp"
#include "gapfront/pose.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/scan.hpp"

namespace gapfront {

/// A named mark that is at the same place in both halves when the mold is closed: a plain point, a tooling ball whose
/// centre is fitted from the scan points near a rough place, or a dowel (its hole in the other half), whose axis is
/// fitted so and crosses the land around it at the mark: the lands touch there. Or a ball or point that was touched by
/// name in both halves (`Scan::features`).
struct Target {
  std::string name;
  std::optional<double> ball;   ///< diameter, mm
  std::optional<double> dowel;  ///< diameter, mm; neither of them: the places below are exact points
  std::optional<ScanPlace> lower;
  std::optional<ScanPlace> upper;
  bool touched = false;        ///< its places are where the features of its name are: `lower` and `upper` are not used
  std::optional<Vec3> tool;    ///< in the tool frame, if the tool has datum coordinates
  std::optional<double> u;     ///< standard uncertainty per coordinate, mm; unset: from the fit and the noise
  std::optional<double> mask;  ///< radius around it that is no moulding face, mm; unset: see `masks_of`
};

/// How the halves are closed.
enum class AlignMethod {
  given,    ///< the scans already share the tool frame, closed
  targets,  ///< targets seen in both scans
  flange,   ///< mating lands set down on each other, or on the stand-off; location in their plane from the others
  nominal,  ///< each half to its nominal surface
  datum,    ///< a plane, a line and a point touched on each half, one after the other (ISO 5459:2011, datum system)
};

/// What a feature of a datum system holds: the plane three degrees of freedom, the line two of those left, the point
/// the last.
enum class DatumKind : char { plane, line, point };

/// A feature of the same name in both scans; closed, it is at the same place in both.
struct DatumFeature {
  std::string name;
  DatumKind kind = DatumKind::plane;
};

/// How the halves are brought together.
struct AlignOptions {
  std::vector<AlignMethod> methods{AlignMethod::targets};
  std::vector<Target> targets;
  std::optional<double> find_ball;  ///< diameter, mm, of balls to be found and matched without names; then no targets
  std::optional<double> given_u;    ///< for `given`: standard uncertainty of the closed position, mm

  std::vector<Region> flange;  ///< lands, tool frame, halves closed; empty: found where the halves come near each other
  double stand_off = 0;        ///< mm between the lands when closed, and between the planes of `datum`
  double flange_within = 0.5;  ///< mm; with no region given, lands are where the halves are so near the stand-off
  /// How far the pull of the clamping may lie off the lands' centre, as a share of their RMS size. A tenth: own choice,
  /// common practice, no source. It decides whether a body that can rock is said to rock.
  double load_play = 0.1;
  /// Standard uncertainty of the location in the lands' plane, mm, when only the flange speaks; unset: unknown, which
  /// is refused where the gap depends on it.
  std::optional<double> in_plane_u;

  std::vector<DatumFeature> features;  ///< for `datum`: one of each kind
  /// Standard uncertainty of a touched point across what it touches, mm, for `datum` and for touched targets; unset:
  /// from the scatter of the touches.
  std::optional<double> touch_u;

  std::optional<Mesh> nominal_lower, nominal_upper;  ///< for `nominal`: tool frame, halves closed
  std::vector<Region> datum;                         ///< for `nominal`: where to fit; empty: the flange's regions
  bool fit_on_cavity = false;  ///< for `nominal`: fit on everything, which hides part of the error; said in the report
  /// A target whose places still differ by more than this after the fit is a wrong name or place, not noise, mm.
  double residual_limit = 1;
  /// Targets that differ by less than this are no reason for doubt, however sure the difference is, mm: a seat wiped
  /// clean takes its ball back to about a fifth of it (common practice, no source), and what is left is in U.
  double seat_play = 0.05;
  ScanErrors lower_errors, upper_errors;  ///< declared of the scans
  /// The same for a target's tool place, which comes from a drawing and only names places, mm.
  double tool_play = 0.5;
  bool test_tool_places = true;  ///< false: they come from an earlier inspection, which a re-check tests by itself
};

/// How the flange lands meet in the registered position.
struct FlangeContact {
  int places = 0, carrying = 0;        ///< places of both lands compared, and those in contact
  int one_sided = 0;                   ///< places that only one half's scan covers
  double cell = 0;                     ///< side of a place, mm; a high spot smaller than that is averaged away
  double mean_open = 0, max_open = 0;  ///< clearance beyond the stand-off, mm
  Vec3 max_open_at = Vec3::Zero();
  double deepest = 0;  ///< by which the lands enter each other beyond all doubt, mm; 0: they do not
  Vec3 deepest_at = Vec3::Zero();
  double rock = 0;  ///< mm between one rest and the other at `rock_at`; 0: it sits in one way only
  Vec3 rock_at = Vec3::Zero();
};

/// How one half lies on its nominal surface.
struct NominalFit {
  std::string half;
  double rms = 0;                      ///< of the points that take part, mm
  double overlap = 0;                  ///< share of the datum points that have a partner
  double score = 0, second_score = 0;  ///< of the best pose and of the next other one, 0 to 1; 0: no search was needed
};

/// One method's part in the closed position.
struct MethodPart {
  std::string name;
  double chi2 = 0;   ///< of its difference from the combination
  double moved = 0;  ///< where it would put the upper half otherwise: greatest difference over the lower half, mm
  double lift = 0;   ///< of that, away from the lands on their average, mm; 0 where no lands were compared
};

/// How one target fits after the registration.
struct TargetResidual {
  std::string name;
  Vec3 residual = Vec3::Zero();            ///< upper − lower after the fit, tool frame, mm
  double lower_form = 0, upper_form = 0;   ///< RMS of the ball fits, mm (0 for points)
  int lower_points = 0, upper_points = 0;  ///< scan points used
  double leave_one_out = 0;         ///< miss of this target when predicted by the others, mm (0: fewer than 4 targets)
  Vec3 place = Vec3::Zero();        ///< tool frame
  double lower_u = 0, upper_u = 0;  ///< standard uncertainty per coordinate of its places, with what points share, mm
};

/// Whether the targets' places in two frames agree, as the same rigid pattern seen twice does.
struct TargetTest {
  std::vector<std::string> names;
  std::vector<Vec3> miss;           ///< of each, seen from all the others (with fewer than 4: after the fit to all), mm
  double chi2 = 0, dof = 0, p = 1;  ///< dof 0: nothing to compare
  double p_scale = 1;               ///< p when the size of one pattern is let free; 1 where that cannot be told
  double rms = 0;                   ///< of the residuals after the fit to all, mm
  bool declared = true;             ///< every place's u is declared or comes from a ball's fit; else it is a guess
  /// Without one of these the rest agrees (p > 5 %). One: it is the odd one. Several: it cannot be told which.
  std::vector<int> odd;
  /// Without this one the rest agrees best, and clearly better than without any other; −1: none.
  int suspect = -1;
  double rest_rms = 0;          ///< of the residuals of the rest, mm
  int exchanged[2] = {-1, -1};  ///< with these two exchanged all agree; −1: no such two
  int worst() const;            ///< index of the greatest miss, or −1
};

/// What stands on a half for the registration's sake: a ball in its seat, a mark, a dowel.
struct FoundMark {
  std::string name;
  Vec3 place = Vec3::Zero();    ///< tool frame
  std::optional<double> ball;   ///< diameter, mm; unset: a plain point
  std::optional<double> clear;  ///< radius around it that is no moulding face, mm, if the job says so
};

/// A ball whose measured diameter is another than the job's.
struct BallSize {
  std::string name;
  bool upper = false;                 ///< measured in the upper half's scan; else in the lower half's
  double declared = 0, measured = 0;  ///< diameters, mm
  double u = 0;                       ///< standard uncertainty of the measured one by the scatter of its points, mm
  Vec3 place = Vec3::Zero();          ///< tool frame
};
/// Balls that contradict the job alike.
struct WrongBalls {
  Message text;  ///< what is wrong, and what to check first
  std::vector<BallSize> balls;
  double moves = 0;  ///< by which the closed position may be off, mm; 0: not known
};

/// The closed position, how well it is known, and how it was found.
struct Alignment {
  ScanToTool lower_to_tool, upper_to_tool;
  /// Covariance of the upper half's small motion (tx,ty,tz in mm, rx,ry,rz in rad) about `pivot`, tool frame:
  /// the motion carries a point x of the upper half to x' = x + t + r × (x − pivot).
  Matrix6 covariance = Matrix6::Zero();
  Vec3 pivot = Vec3::Zero();
  double fit_rms = 0;  ///< RMS residual of the targets that were used, mm; says nothing about error elsewhere
  std::vector<TargetResidual> residuals;
  TargetTest closure;                 ///< lower against upper half
  TargetTest lower_tool, upper_tool;  ///< each half against the targets' tool places
  std::vector<std::string> left_out;  ///< targets so far off that the closed position was found without them
  /// One target was left out, and the others, four at least, agree and test each other: no reason for doubt.
  bool rest_suffices = false;
  /// Balls whose measured diameters contradict the job's so far that their centres, and the closed position with them,
  /// may be off by more than the play of a seat: the first reason for doubt.
  std::vector<WrongBalls> wrong_balls;
  SharedNoise shared_noise;  ///< of both scans, as their balls show it; nil: none is seen, or too few balls
  /// Displacement of the upper half's scan against the lower's, per coordinate, that changes along them (warp, steps
  /// between passes): independent parts, each of one length. Declared, or by the targets where these show more. What it
  /// does to the closed position goes by `supports` and is not in `covariance`.
  std::vector<SharedNoise> fields;
  bool fields_by_targets = false;
  std::vector<Support> supports;  ///< empty where there are no fields, or the halves lie as `given` alone says
  std::vector<FoundMark> marks;   ///< targets, and balls of their size that are no target, as found in the scans
  double scale_ppm = 0, scale_ppm_u = 0;  ///< apparent scale upper/lower − 1 and its standard uncertainty, ppm
  std::optional<FlangeContact> flange;
  std::vector<NominalFit> nominal;
  std::vector<MethodPart> methods;  ///< when several methods were combined
  double chi2 = 0, dof = 0;         ///< do they agree? dof 0: nothing to compare
  Messages method;                  ///< how the halves were closed, in parts
  Messages warnings;
  Messages unsettled;  ///< fits that did not come to an end within their limit of rounds: a reason for doubt
  /// Standard uncertainty of the upper half's position at p along direction d, mm (eq. 17 generalised).
  double u_at(const Vec3& p, const Vec3& d) const;
};

/// Standard deviation of each scan's points along the normal, mm.
struct PointNoise {
  double lower = 0, upper = 0;
};

namespace align {
/// Whether a method is among those asked for.
bool uses(const AlignOptions&, AlignMethod);
/// Targets that differ by so much are no reason for doubt, mm: the play of their seats, and where the u of places that
/// were typed in is not declared, what rounding and reading amount to.
double seat_play(const TargetTest&, const AlignOptions&);
/// The one target to blame where targets disagree, or −1: the rest agrees without it, or agrees far better.
int likely_odd(const TargetTest&, double play);
/// The targets differ beyond chance (1 in 400) and beyond `play` mm.
bool disagree(const TargetTest&, double play);
/// A method in words, by `MethodPart::name`; a name that is none says itself.
Message method_word(const std::string& method);
/// The closed position of both halves in the tool frame. Scans in their own frames, mm. Throws
/// Error{Fault::measurement} naming the free directions when the constraint is too weak, and Error{Fault::input} for a
/// target that is missing, empty or given twice.
Alignment register_halves(const Scan& lower, const Scan& upper, const AlignOptions&, const PointNoise&,
                          const Progress& = {});
}  // namespace align

/// A sphere through scan points.
struct SphereFit {
  Vec3 centre = Vec3::Zero();
  double radius = 0, rms = 0;  ///< mm; rms of the distances to the sphere of the points used
  int used = 0;                ///< points used; 0: no ball was found
  double u_centre = 0;         ///< standard uncertainty of the centre, root of the mean variance of its coordinates, mm
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();  ///< of the centre, mm²
  std::vector<Vec3> kept;                                ///< the points used, from the centre, mm
};

/// What sphere is looked for.
struct SphereSearch {
  double radius = 0;  ///< mm; 0: free
  double noise = 0;   ///< standard deviation of a point along the normal, mm
};

namespace align {
/// Robust least-squares sphere of given radius (or free) near `rough`, mm. With a given radius the
/// centre may be up to 1.2 radii from `rough`, and what the ball stands on, clutter and outlier points are left out;
/// with a free radius all points are searched. The result is the plain least-squares sphere of the points kept.
/// Finding nothing is no error: `used` is then 0.
SphereFit fit_sphere(const std::vector<Vec3>& points, const Vec3& rough, const SphereSearch&);

/// Least-squares sphere of given radius (0: free) through points that were touched on a ball, all of which count;
/// `covariance` is that for points of 1 mm (to be multiplied by the variance of a point). `used` is 0 where the points
/// do not say where the centre is: fewer than four, or near one circle.
SphereFit fit_touched_ball(const std::vector<Vec3>& points, double radius);

/// What the points of a feature lie on.
enum class FeatureShape : char { point, line, plane, ball };
/// The simplest that they lie on: a point to a millimetre, a line to a twentieth of its extent (touched at any height),
/// a plane to a hundredth; else a ball, where a twentieth of its radius holds them.
FeatureShape shape_of(const std::vector<Vec3>& points);
}  // namespace align

}  // namespace gapfront
