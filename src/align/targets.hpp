// Targets: places in both scans and in the tool frame, and the closed position that follows from them.
#pragma once
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "align/other_ball.hpp"
#include "align/shared_noise.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/align.hpp"

namespace gapfront::align {

/// What a scan shows about a ball that was found: each look goes through all of the scan.
struct SeenBall {
  std::vector<Vec3> near;            ///< what a fit with the job's diameter sees, scan frame
  std::optional<MeasuredBall> size;  ///< nothing: the points show no ball of about that diameter
};

/// A target's place in one scan, with its covariance.
struct Located {
  Vec3 at = Vec3::Zero();
  Eigen::Matrix3d cov = Eigen::Matrix3d::Zero();
  double form = 0;                            ///< RMS of the ball fit, mm
  int points = 0;                             ///< scan points used
  bool known = false;                         ///< `cov` is declared or comes from a fit; else it is a guess
  bool declared = false;                      ///< `cov` is the job's own statement: nothing is added to it
  bool moved = false;                         ///< the scan lies otherwise than the job has it; see motion_of_scan
  BallPoints ball;                            ///< what the fit used; no points: none, or its u is declared
  std::shared_ptr<const SeenBall> seen = {};  ///< of a ball; else null
};

struct LocatedTarget {
  std::string name;
  std::optional<Located> lower, upper;
  std::optional<Vec3> tool;
  bool lost = false;  ///< its ball or dowel was not found in one half
  /// The ball of another diameter that is there, lower and upper; its place as scanned.
  std::optional<BallSize> other[2]{};
  double beside = 0;  ///< where one half has that: diameter of its ball in the half that shows the job's, mm; 0: none
};

/// So many targets in both halves test each other without a further one: what is left out or lost is then no loss.
constexpr int kEnoughTargets = 4;

/// The motion from where the job has the balls of one half to where this scan has them, told by their distances to each
/// other: of a half that was scanned again. Nothing where fewer than three, or than half of them, match in one way.
std::optional<Rigid> motion_of_scan(const Scan&, const std::vector<Target>&, bool upper, double noise);

/// Throws Error{input} for names that are empty or given twice and for targets without places.
void check_targets(const std::vector<Target>&);

/// Balls and dowels fitted, points taken as given, what was touched by name from its own points. Where fewer than three
/// balls of a half are at their places, all are looked for where motion_of_scan() says. One that is not there
/// leaves its target without a place in that half as long as `kEnoughTargets` have both; else Error{measurement} names
/// target, half and place.
std::vector<LocatedTarget> locate_targets(const Scan& lower, const Scan& upper, const std::vector<Target>&,
                                          const PointNoise&, const std::optional<double>& touch_u, const Progress&);

/// A ball's place by its fit; a covariance that the job states stays.
void take_ball(Located&, const SphereFit&, const Target&);

/// What the balls of all targets say of errors that neighbouring points share. The covariances of their centres gain
/// that, or what is declared of their scan where it is more.
SharedNoise share_noise(std::vector<LocatedTarget>&, const SharedNoise& lower, const SharedNoise& upper);

/// What was not found, and what neighbouring points share beyond what is declared of them.
Messages notes_on(const std::vector<LocatedTarget>&, const SharedNoise&, const AlignOptions&);

struct ToolDatum {
  ScanToTool lower_to_tool;
  Message said;  ///< where the tool frame comes from
  Messages warnings;
  TargetTest test;  ///< of the lower half's places against the tool's
};
/// Tool frame from targets with tool coordinates (at least 3, not on one line); none given: the lower scan's frame.
ToolDatum tool_datum(const std::vector<LocatedTarget>&);

struct TargetFit {
  PairFit fit;  ///< upper scan → tool; information inflated when the residuals exceed what the uncertainties explain
  std::vector<TargetResidual> residuals;
  double rms = 0, scale_ppm = 0, scale_ppm_u = 0;
  TargetTest test;
  std::vector<std::string> left_out;  ///< so far off that the fit was made without them
  bool rest_suffices = false;         ///< see Alignment
  Messages warnings;
};
/// The upper half's places against the tool's; nothing with fewer than 3.
TargetTest upper_against_tool(const std::vector<LocatedTarget>&);
/// Closed position from targets seen in both scans. Left out are: one that is off by more than the job's limit of a
/// residual; one that is off beyond chance and beyond the play of its seat, where the rest suffices; two that were
/// exchanged. Throws Error{measurement} naming the free directions, or when nothing fits at all.
TargetFit fit_targets(const std::vector<LocatedTarget>&, const ScanToTool& lower_to_tool, const AlignOptions&);

}  // namespace gapfront::align
