// A re-check: what has changed on a tool since an earlier inspection, how fast, and how long it still holds.
#pragma once
#include <array>
#include <limits>
#include <string>
#include <utility>
#include <vector>
#include "gapfront/conformity.hpp"
#include "gapfront/correct.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/history.hpp"

namespace gapfront {

/// How inspections are compared.
struct RecheckOptions {
  double limit = 0;  ///< growth of the gap since the baseline that ends the tool's use, mm; 0: the tolerance limits
  ToleranceOptions tolerance;
  double min_area = 100;  ///< smaller changes are not listed, mm²
};

/// How large the greatest value of a smoothed field of pure noise gets on this sheet: found by seeded simulation, so
/// that hundreds of places are judged at once without crying wolf.
struct FieldNull {
  static constexpr int scales = 3;
  std::array<int, scales> passes{1, 4, 12};       ///< of the smoothing; wear is sought at each width
  std::array<std::vector<double>, scales> sigma;  ///< per node: what smoothing leaves of independent unit noise
  double threshold = 0;                           ///< exceeded anywhere, at any width, in 1 % of the simulated sheets
};

namespace history {
/// How large the greatest change is by chance on this sheet.
FieldNull field_null(const Sheet&);
/// How far each face has moved since an earlier inspection on the same sheet and in the same frame.
FaceMoves moves_since(const Sheet&, const GapMap& now, const Record& then);
/// Mean of the records' fit areas per node; nothing where none of them kept any.
std::vector<double> fit_areas(const std::vector<Record>&);
}  // namespace history

/// A target that is not where it was, seen from the others.
struct DatumMove {
  std::string name, half;  ///< "lower" or "upper"
  bool several = false;    ///< it is the one that moved most, and not the only one
  double distance = 0, U = 0;
};

/// One date of a trend.
struct TrendPoint {
  double cycles, value, u;  ///< gap at the fastest place, rigid motion taken out, mm
};

/// Straight line through points of known uncertainty.
struct Line {
  double at_first = 0, rate = 0;                 ///< value at the first point, slope
  double u_rate = 0, dof = 0, t = 0, scale = 1;  ///< t for 95 %; scale: Birge ratio, at least 1
  double v00 = 0, v01 = 0, v11 = 0;              ///< covariance of the two, scaled
  double first = 0;
};

/// A place that has provably changed, and its course.
struct Wear {
  std::string name;                                  ///< "W1"…, the greatest volume first
  std::string face;                                  ///< "lower", "upper", or "both"
  Vec3 centre = Vec3::Zero(), worst = Vec3::Zero();  ///< centroid of the change; the top of it, between the nodes
  double area = 0, mean = 0, mean_U = 0;             ///< mm², mm (change of the gap since the earlier inspection)
  double peak = 0, peak_U = 0;                       ///< at `worst`, mm
  double lower_fraction = 0, lower_fraction_U = 0;   ///< of the change that the lower face made
  std::vector<int> nodes;
  std::vector<Vec3> outline;
  std::vector<TrendPoint> course;         ///< at `worst`, one per inspection
  Line line;                              ///< through the course; dof 0: no line
  double rate = 0, rate_U = 0;            ///< at `worst`, mm per cycle, 95 % interval rate ± rate_U; NaN: `bent`
  double mean_rate = 0, mean_rate_U = 0;  ///< of the region's mean; NaN: `bent`
  double limit = 0;      ///< gap at `worst` that ends the use, mm, the seat's movement taken out as in the course
  double seat = 0;       ///< what the seat's present movement takes of the gap there, counted in the limit, mm
  bool by_seat = false;  ///< at its limit by the seat's movement alone: limit and cycles are those without it
  bool enough = false;   ///< evidence for a finite interval
  /// No straight line holds through the course: no rate, and no cycles but of a limit that is reached.
  bool bent = false;
  /// A gap that has narrowed between two dates: dirt, or a place that was built up, comes once and has no pace.
  bool paceless() const { return peak < 0 && course.size() < 3 && !(enough && left_high <= 0); }
  /// Whether there is a rate to be told.
  bool straight() const { return line.dof > 0 && !bent && !paceless(); }
  bool narrow = false;  ///< past its limit at the top, but not over the least area that the verdict judges
  /// Cycles in which the fastest credible pace of the course uses up what is left; infinite: not known.
  double soonest = std::numeric_limits<double>::infinity();
  double left = 0, left_low = 0, left_high = 0;  ///< cycles left, 95 % interval; infinite where there is none
};

/// A change that an earlier inspection proved, and the next one no longer shows.
struct Vanished {
  Vec3 at = Vec3::Zero();     ///< the top of it
  double was = 0, was_U = 0;  ///< change of the gap there since the baseline, mm
  std::string date, gone;     ///< when it was last seen, and of the inspection that first lacks it
  double cycles = 0, gone_cycles = 0;
  double left = 0;                                           ///< of it today, mm
  double soonest = std::numeric_limits<double>::infinity();  ///< as that of a wear
};

/// Whether what the halves are closed on has moved; `untold`: that, or a face has worn widely.
enum class DatumState { steady, unchecked, target_moved, half_moved, untold };
const char* to_string(DatumState);

/// What has changed since an earlier inspection.
struct Recheck {
  Sheet sheet;
  Record now, then;
  std::vector<double> drift, U, remainder;  ///< gap now − then, its expanded U, and without the rigid part; NaN: none
  std::vector<double> u_transform;          ///< of bringing the scans onto the common sheet, 1 standard uncertainty, mm
  int transform_targets = 0;                ///< targets that did it; 0: too few, the halves' registration stands in
  std::vector<char> significant;            ///< node lies in a listed wear region
  RigidPart rigid;                          ///< of the drift
  double rigid_p = 1;                       ///< chance of so large a rigid part if nothing moved
  DatumState datum = DatumState::steady;
  std::vector<DatumMove> moved;
  std::vector<Wear> wear;
  std::vector<Vanished> vanished;  ///< the latest first
  /// The upper half's seat is to be put right before anything else: its movement takes the gap to a limit, or may do
  /// so.
  bool seat_first = false;
  std::string rows_sha256;  ///< of the history's rows that it counts
  Lead front;               ///< then against now: positive where the front now comes earlier
  double detects = 0;       ///< change at one place that this pair of inspections would still find, mm
  double inflation = 1;     ///< by how much the scatter of the drift exceeds what U says (1: not at all)
  bool unsure = false;      ///< something changed, or scatters too much, and no place of wear can be named
  /// Area that one of the two dates does not show, where that is enough for a wear to hide in, mm²; 0: all is compared.
  double not_compared = 0;
  double next_cycles = 0;  ///< propose the next re-check at this count; NaN: see `next_why`
  std::string next_date;   ///< the same as a date; empty: pace unknown
  Message next_why;        ///< the reason
  Text headline;
  Messages cancels, notes;  ///< what dropped out of the difference; what to know
};

/// At its limit, beyond doubt.
bool at_limit(const Wear&);
/// Cycles until its limit at the earliest, by the interval of its line and by its fastest pace; infinite: none in
/// sight.
double earliest_end(const Wear&);
/// The node where the front now comes later than then by the most, and by how much, s; −1 and 0: it comes nowhere
/// later.
std::pair<int, double> latest_front(const Recheck&);
/// The wear that decides: the one that may come to its limit first, of those alike the greatest. One whose change is
/// hardly above its U comes after all others. None: nothing has provably changed.
const Wear* first_to_end(const Recheck&);

namespace history {
/// `records` are those of one baseline, the first being it; `now` and `then` are indices into them. Those later than
/// both have no say in it: only that they are there is told. `since_baseline`: the same date against the baseline where
/// it was computed already, for what comes next.
Recheck recheck(const Sheet&, const std::vector<Record>& records, std::size_t now, std::size_t then,
                const RecheckOptions&, const FieldNull&, const Recheck* since_baseline = nullptr);

/// Weighted least squares. The u of the points count as known from 8 degrees of freedom (to 25 %, JCGM 100 G.4.2) and
/// are pooled with the scatter about the line; at least two different abscissae are needed.
Line fit_line(const std::vector<TrendPoint>&);
/// Abscissa where the line reaches `limit`, with the 95 % interval of Fieller (1954); `u_common` is the standard
/// uncertainty that all values share. {estimate, low, high}, infinite where the interval is open.
std::array<double, 3> crossing(const Line&, double limit, double u_common);
}  // namespace history

}  // namespace gapfront
