// Is the gap within tolerance, provably? (ISO 14253-1, JCGM 106)
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/message.hpp"
#include "gapfront/scan.hpp"

namespace gapfront {

/// `not_judged` is said of a whole only, never of a node's share: the registration is in doubt.
enum class Conformity { conforming, undecided, nonconforming, not_measured, not_judged };

/// A tolerance interval, mm.
struct Interval {
  double low = 0, high = 0;
};

namespace conformity {
/// Conforming: low + U ≤ y ≤ high − U; nonconforming: outside by more than U; otherwise undecided. All in mm.
Conformity decide(double y, const Interval& limits, double U);
}  // namespace conformity

const char* to_string(Conformity);

namespace conformity {
/// The word that a verdict's headline begins with; provisional while what it rests on is a guess.
Message verdict_word(Conformity, bool provisional);
}  // namespace conformity

/// A part of the sheet with limits of its own.
struct ToleranceZone {
  std::string name;
  Region where;
  double nominal, minus, plus;
  std::optional<Rgb> paint = {};  ///< the part painted so, in place of `where`; `nodes` says which one that is
  std::vector<char> nodes = {};   ///< not empty: 1 for each node inside, in place of `where`
};
/// The limits, and what decides about the whole.
struct ToleranceOptions {
  double nominal = 3, minus = 0.3, plus = 0.3;  ///< mm; limits are nominal − minus, nominal + plus
  std::vector<ToleranceZone> zones;             ///< later zones win
  std::vector<double> nominal_field;            ///< nominal per node, mm; empty: none; wins over the nominal of zones
  double min_region_area = 100;                 ///< smaller regions are not listed, mm² (1 cm²)
  double allowed_nonconforming_fraction = 0;    ///< of the area, for the overall verdict
  /// What is not measured does not decide as long as each connected place is smaller than `min_area`, mm² (own choice:
  /// a disc of 25 mm, which a hand finds and a filler fills) and all of them together are no more than
  /// `unmeasured_fraction` of the area (own choice), or than one `min_area` on a small mold (a tenth of it at most).
  double min_area = 491, unmeasured_fraction = 0.01;
};

/// A connected part of the sheet that is provably outside, with its whole footprint: it grows from provably
/// outside nodes to where the deviation drowns in the noise. When the rigid part is significant the region is cut from
/// the remainder, so that a tilt (cured by shims) and a local defect (cured on a face) are not mixed up.
struct DeviationRegion {
  std::string name;                                 ///< "R1", "R2"…, ranked by volume
  bool high = false;                                ///< gap too wide
  Vec3 centre = Vec3::Zero();                       ///< centroid weighted by |deviation|
  double area = 0, volume = 0, mean = 0, peak = 0;  ///< mm², mm³, mm, mm (signed deviation)
  double mean_U = 0;                                ///< expanded uncertainty of the mean (correlated parts kept), mm
  std::vector<int> nodes;
  std::vector<Vec3> outline;                    ///< closed, tool coordinates
  bool on_remainder = false;                    ///< deviation here means the remainder after the rigid part
  double level = 0;                             ///< |deviation| down to which the region was grown, mm
  double mean_U_independent = 0;                ///< the part of mean_U that shrinks with the number of nodes, mm
  double mean_U_common = 0;                     ///< the part that does not (registration, instrument, temperature), mm
  double out_area = 0;                          ///< of its nodes that are provably outside, mm²
  Conformity decision = Conformity::undecided;  ///< of the mean over those nodes, with the U of that mean
};

/// What makes up the uncertainty of an area-weighted mean of the gap, 1σ, mm. The fits are independent from place to
/// place and shrink with the area; registration, instrument and temperature are common to all of it and do not.
struct MeanBudget {
  double lower = 0, upper = 0, instrument = 0, registration = 0, temperature = 0;
  double U = 0;  ///< expanded
};

namespace conformity {
/// Over the nodes given (those not measured are left out), by JCGM 100:2008 eq. 16 with the correlations kept.
MeanBudget mean_budget(const Sheet&, const GapMap&, const std::vector<int>& nodes);
}  // namespace conformity

/// The verdict on the part of the sheet where one zone's limits hold.
struct ZoneVerdict {
  std::string name;                  ///< empty: what no zone covers
  double area = 0;                   ///< mm²
  std::array<double, 4> fraction{};  ///< of that area, by Conformity
  Conformity overall = Conformity::not_measured;
  double mean = 0;    ///< area-weighted deviation, mm
  MeanBudget budget;  ///< of that mean
  Text would_change;  ///< what would decide its undecided area
};

/// Limits of the gap, mm.
struct NodeLimits {
  double nominal, low, high;
  int zone = -1;  ///< whose limits these are; −1: of no zone
};

/// How a place is judged: by the mean gap over a disc about it, and by its uncertainty. Conforming needs proof at every
/// place, and a tool that is out is out at one at least, so the one-sided 95 % of one place is the risk of the whole
/// (intersection-union test: Berger 1982, from memory). Nonconforming needs proof at one place of many: its factor is
/// the one that the greatest error over the whole sheet exceeds in 2.5 % of simulated measurements.
struct DecisionRule {
  double across = 0;  ///< diameter of the disc, mm: a disc of `ToleranceOptions::min_area`
  /// Standard uncertainties by which a mean must be inside, or outside, to be proven so.
  double inside = 0, outside = 0;
  /// The same for the nodes of a strip that is narrower than the disc and at least as long as it is across.
  double outside_node = 0;
};

/// The place that is nearest to one of its limits, in uncertainties, or farthest beyond it.
struct DecidingPlace {
  bool found = false;                           ///< false: nothing is measured, or nothing is judged
  Vec3 at = Vec3::Zero();                       ///< tool frame, mm
  double nominal = 0, limit = 0, mean = 0;      ///< over the disc about it, mm
  double U = 0;                                 ///< of that mean, expanded, mm
  Conformity decision = Conformity::undecided;  ///< of that mean, by this limit alone
};

/// What lies provably outside and does not decide, since it is smaller than the disc.
struct SmallOutside {
  double area = 0;         ///< mm²; 0: there is none
  double deviation = 0;    ///< where it is farthest beyond its limit, mm
  Vec3 at = Vec3::Zero();  ///< there
};

/// Is the gap within tolerance, provably?
struct Verdict {
  DecisionRule rule;
  /// Chance at most that a measurement of a tool which is outside its limits somewhere comes out like this one or
  /// better (consumer's risk), and of one that is within everywhere like this one or worse (producer's risk).
  double consumer_risk = 1, producer_risk = 1;
  SmallOutside small_outside;
  DecidingPlace at_low, at_high;           ///< by the lower and the upper limit
  std::vector<NodeLimits> limits;          ///< per node: what was judged by
  std::vector<double> nominal, deviation;  ///< per node, mm: the nominal gap to compute with; NaN where not measured
  std::vector<Conformity> node;
  std::array<double, 4> fraction{};  ///< area share by Conformity
  Conformity overall = Conformity::undecided;
  Text headline;                    ///< the verdict: its word, then what it says
  Text would_change;                ///< what would decide an undecided area
  std::vector<UnseenPlace> unseen;  ///< what is not measured, the largest place first
  bool covered = true;              ///< what is not measured is too little to decide
  std::vector<ZoneVerdict> zones;   ///< in the job's order, then what no zone covers; empty without zones
  MeanBudget mean_budget;           ///< of the mean deviation
  std::vector<DeviationRegion> regions;
  double mean = 0, sigma = 0, p05 = 0, p50 = 0, p95 = 0, minimum = 0, maximum = 0;  ///< area-weighted deviation, mm
  std::vector<std::pair<double, double>> histogram;  ///< (deviation bin centre mm, area share)
  double offset = 0;
  Vec3 tilt = Vec3::Zero();  ///< best-fit rigid motion (mm, rad) along gap directions about `pivot`
  Vec3 pivot = Vec3::Zero();
  double offset_U = 0;
  Vec3 tilt_U = Vec3::Zero();
  std::vector<double> remainder;  ///< deviation left after that motion, mm (only the surface can cure it)
  double remainder_rms = 0;
  Vec3 axis = Vec3::UnitZ();              ///< the offset is along it, the tilts are across it
  bool rigid_significant = false;         ///< RMS effect of the rigid motion over the sheet exceeds its U
  double rigid_rms = 0, rigid_rms_U = 0;  ///< that effect and its expanded uncertainty, mm
};

/// A better measurement, and what it would decide.
struct BetterScan {
  /// How: the halves' temperatures known; half the declared error of the scanner; three readings of the thickness,
  /// which update the map; half the spacing of the points; each half scanned once more in another pose; twice the
  /// targets; all but the readings.
  enum class Way { temperature, instrument, readings, points, pose, targets, all };
  Way way = Way::all;
  Vec3 at = Vec3::Zero();     ///< of the undecided places the one nearest to being decided, tool frame
  double U = 0, U_after = 0;  ///< of what is judged there, now and then, expanded, mm
  double decided = 0;         ///< share of the undecided area that it would decide
  std::vector<Vec3> read_at;  ///< where the readings would be taken, tool frame; none for other ways
};

namespace conformity {
/// All of them by the budget of the present measurement, the cheapest first: those places are decided then whose margin
/// exceeds their new U. Empty where nothing is undecided. Throws as judge().
std::vector<BetterScan> better_scans(const Sheet&, const GapMap&, const ToleranceOptions&);
/// The decision at every node, the whole's and each zone's, the deviating regions and the rigid part. One NodeGap per
/// node. Throws Error{Fault::input} as tolerance_limits() does, and for an uncertainty that is no number.
Verdict judge(const Sheet&, const GapMap&, const ToleranceOptions&);
/// No verdict: nominal and deviation per node for the map, every class `not_judged`, all shares 0, and `why` as the
/// headline.
Verdict not_judged(const Sheet&, const GapMap&, const ToleranceOptions&, const Text& why);

/// Share of a face of that area (mm²) that may stay unmeasured in all: that of the options, or one place below min_area
/// on a small mold; nothing where the job allows none.
double unmeasured_allowed(const ToleranceOptions&, double area);

/// The places that are not measured and are worth going back to the tool for, the largest first. Empty where what is
/// not measured is too little to decide.
std::vector<UnseenPlace> to_scan(const Verdict&);

/// The three largest places that are not measured, to be scanned first; `work`: other work is proposed, which must
/// wait. Empty where what is not measured is too little to decide.
Text scan_first(const Verdict&, bool work);

/// Values given at scattered places, at every node: nearest places on the same wall, a plane through them weighted by
/// 1/distance² (exact at the places and for a linear field). NaN where no place is near, i.e. farther than three times
/// the places' own usual distance.
std::vector<double> interpolate_on_sheet(const Sheet&, const PlaceValues&);

/// 1 for each node whose nearest face of the painted mesh has that paint. A node farther from the mesh than `reach` mm
/// has none. Throws Error{Fault::input} that lists the paints there are when no node has this one.
std::vector<char> painted_nodes(const Sheet&, const PaintedMesh&, const Rgb&, double reach);

/// Nominal thickness per node, mm. Throws Error{Fault::input} as tolerance_limits() does.
std::vector<double> nominal_gap(const Sheet&, const ToleranceOptions&);

/// The decision at every node, as judge() makes it, by the rule that it simulated for a map of the same uncertainties
/// (`Verdict::rule`). One NodeGap and one NodeLimits per node. Throws as judge().
std::vector<Conformity> node_classes(const Sheet&, const GapMap&, const std::vector<NodeLimits>&, const DecisionRule&);

/// Diameter of the disc that the gap is averaged over, mm.
double disc_across(const ToleranceOptions&);

/// The limits at every node: zones, then the nominal field. Throws Error{Fault::input} for negative limits, a nominal
/// that is not positive, or a field of the wrong length.
std::vector<NodeLimits> tolerance_limits(const Sheet&, const ToleranceOptions&);
}  // namespace conformity

/// The part of a deviation that a rigid motion of the upper half makes: offset along `axis` and two tilts.
struct RigidPart {
  Vec3 axis = Vec3::UnitZ(), pivot = Vec3::Zero();
  double offset = 0;
  Vec3 tilt = Vec3::Zero();  ///< mm, rad
  double offset_U = 0;
  Vec3 tilt_U = Vec3::Zero();  ///< expanded
  std::vector<double> effect;  ///< per node, mm
  double rms = 0, rms_U = 0;   ///< area-weighted, mm
  double noise = 0;            ///< robust σ of what is left, mm
};

namespace conformity {
/// Robust (Tukey) area-weighted least squares along the gap directions; unmeasured nodes and NaN are left out.
RigidPart fit_rigid_part(const Sheet&, const GapMap&, const std::vector<double>& deviation);
}  // namespace conformity

}  // namespace gapfront
