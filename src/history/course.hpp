// The dates of one re-check, and how a place went from one to the next.
#pragma once
#include <vector>

#include "core/area_mean.hpp"
#include "history/drift.hpp"

namespace gapfront::history {

/// The records of one re-check, and what changed at each since the baseline (the first).
struct Course {
  const Sheet& sheet;
  std::vector<Record> records;
  std::vector<SharedFits> shared;  ///< per record
  std::vector<Drift> since;        ///< per record but the first
  bool held = false;               ///< no rigid part is taken out at any date
  std::size_t now = 0;             ///< of `records`
};

/// Level of a sum over the nodes at each inspection, with what the upper half's seat has changed since the baseline
/// taken out; unmeasured nodes make the date drop out. `which`: the record of each point.
std::vector<TrendPoint> course_of(const Course&, const std::vector<double>& h, double inflation,
                                  std::vector<std::size_t>* which = nullptr);

/// What the gap is now over some nodes, as the verdict judges it: nothing rigid is taken out.
struct Present {
  double value = 0, u = 0, U = 0;  ///< U: expanded by the coverage factor of the map
};
Present present_of(const Course&, const std::vector<double>& h, double inflation);

}  // namespace gapfront::history
