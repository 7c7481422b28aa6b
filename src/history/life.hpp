// How long a place of wear still holds.
#pragma once
#include "gapfront/recheck.hpp"

namespace gapfront::history {

/// Of a one-sided interval of 95 %, in standard uncertainties.
constexpr double kOneSided = 1.645;

/// Where a course is to end.
struct End {
  double limit = 0;     ///< of the course's values
  double sign = 1;      ///< +1: reached from below
  double u_common = 0;  ///< standard uncertainty that all values share, against the limit
  bool growth = false;  ///< the limit is counted from the first value, so that what the dates share drops out
};

/// Cycles from `now` until the end, with the 95 % interval.
struct Life {
  bool enough = false;
  bool bent = false;  ///< no straight line holds: no interval is given
  double left = 0, low = 0, high = 0;
};
/// By the line over all dates, and by that over the last two: the lower end is the earlier of both. Where the scatter
/// about the line over all dates has a chance below 5 %, neither is believed, and none is given.
Life life_of(const std::vector<TrendPoint>&, const Line& all, const End&, double now);

/// The fastest credible pace towards a limit, mm per cycle: the upper end (95 %) of the steepest slope from one date to
/// the next. Dates that are closer than a tenth of the run are taken together, as a slope over a few cycles says
/// nothing.
double fastest_pace(const std::vector<TrendPoint>&, double sign);

}  // namespace gapfront::history
