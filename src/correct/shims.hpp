// Rigid seating of the upper half on its stations, and the stacks that seat it best.
#pragma once
#include <algorithm>
#include <array>
#include <functional>
#include <optional>

#include "gapfront/correct.hpp"

namespace gapfront::correct {

/// A thin feeler slips in at this, mm: less clearance over a stack, or sideways play, is none.
constexpr double kFeeler = 0.02;
/// Heights closer than 0.01 µm are the same height, mm: rounding of sums of shims, far below any shim.
constexpr double kSameHeight = 1e-5;
/// Stacks are told apart to 1 µm, finer than any shim.
constexpr double kStackStep = 1e-3;

/// How the upper half sits after the stacks at the stations changed: height = level + slope·(in-plane place) along the
/// closing axis, over the stations' mean place.
struct Seating {
  Vec3 axis = Vec3::UnitZ(), origin = Vec3::Zero(), e1 = Vec3::UnitX(), e2 = Vec3::UnitY();
  std::vector<Eigen::Vector2d> at;  ///< stations in the plane across the axis
  Eigen::Vector2d load = Eigen::Vector2d::Zero();
  /// (level, slope 1, slope 2), or nothing when the load point lies outside the stations and the half would tip.
  std::optional<Vec3> rest(const std::vector<double>& height) const;
  double height(const Vec3& plane, std::size_t station) const;
  /// Change of the gap at a place with gap direction d, per unit of level and slopes.
  Vec3 row(const Vec3& place, const Vec3& d) const;
  /// Three stations that enclose the load, and the plane (level, slopes) through their heights.
  struct Carrier {
    std::array<std::size_t, 3> station;
    Eigen::Matrix3d plane;
  };
  std::vector<Carrier> carriers() const;
  /// Move of the upper half at a place across the closing axis, mm: the flange keeps its place, what stands deep below
  /// it swings out.
  double sideways(const Vec3& place, const Vec3& plane) const;
};
Seating seat(const Sheet&, const GapMap&, const std::vector<Station>&);

/// Totals that at most `max_pieces` of the stock make (any number of each), ascending, with the fewest pieces; up to
/// `most` mm if that is positive.
struct ShimStack {
  double total = 0;
  std::vector<double> pieces;
  double relief = 0;  ///< taken off the flange, mm; then total = −relief
};
std::vector<ShimStack> reachable_stacks(const std::vector<double>& stock, int max_pieces, double most = 0);
/// The same with what may be taken off the flange, in shop steps.
std::vector<ShimStack> reachable_stacks(const CorrectOptions&);

/// What is to be made small: area out of tolerance, then RMS deviation with a share of the loose stations, then
/// stations to change, then pieces. The RMS deviation only says which of the seatings that tie in area are looked at:
/// among those the front decides, see FrontOf.
struct ShimScore {
  double out_area = 0;  ///< point value out, counted twice where provably out; share of the measured area
  double rms = 0;       ///< mm
  double loose = 0;     ///< sum of the clearances over stations that do not carry, mm
  int changed = 0, pieces = 0;
};
/// The score in the steps that count: two scores in the same steps are equal.
std::array<long, 4> key_of(const ShimScore&);
bool better(const ShimScore&, const ShimScore&);

/// Seatings that get a filling: as many as half of a plan's usual candidates, so that the plan stays as quick.
constexpr std::size_t kFronts = 6;
/// What a seating does to the front, as a share to be made small. It takes a filling, so it is asked of few seatings,
/// of several at once.
using FrontOf = std::function<double(const Vec3& plane)>;

struct ShimChoice {
  std::vector<ShimStack> stacks;  ///< per station
  std::vector<double> change;     ///< per station, mm
  std::vector<double> clearance;  ///< over stations that do not carry, mm
  Vec3 plane = Vec3::Zero();      ///< how the half then sits, see Seating
  ShimScore before, after;
  bool proven = false;  ///< no combination of the levels leaves less area out, nor as little with less RMS but the tied
  ShimScore bound;      ///< no combination is better than this; equal to the first of the tied if proven
  long boxes = 0;       ///< sets of combinations that were bounded
  /// The front of the seatings that leave as little area out, least RMS deviation first; empty if it was not asked.
  std::vector<double> tied;
  std::size_t taken = 0;  ///< which of them this is
};
/// `deviation` per node is what shims can and shall cure (local defects taken out); NaN is left out.
ShimScore score_shims(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, const std::vector<double>& deviation,
                      const Seating&, const Vec3& plane);
/// The deviation with the remainder of every listed region taken out: those are local, and seating the half higher or
/// lower to hide them would spoil everything around.
std::vector<double> without_regions(const Verdict&);
/// Branch and bound over all levels of all stations for the least area out of tolerance; of up to `most` seatings that
/// tie in it, those of least RMS deviation, the one that `front` says is best. Nothing when no station or stock is
/// given, or the stations do not enclose the load.
std::optional<ShimChoice> choose_shims(const Sheet&, const GapMap&, const std::vector<NodeLimits>&,
                                       const std::vector<double>& deviation, const RigidPart&, const CorrectOptions&,
                                       const FrontOf& front = {}, std::size_t most = kFronts);

}  // namespace gapfront::correct
