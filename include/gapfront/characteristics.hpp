// The list of characteristics of an inspection, for a quality department's own tables: what was judged, by which
// limits, with which uncertainty, and how.
#pragma once
#include <string>
#include <vector>

#include "gapfront/inspection.hpp"

namespace gapfront {

/// One value that was measured, or a place that is not. Lengths mm, tool frame; NaN: there is none.
struct Characteristic {
  std::string id;    ///< "gap.lower-limit": the same in every list, but for the numbers of not-measured
  std::string what;  ///< in English, as all data files
  Vec3 at;
  double nominal, low, high;  ///< the limits that hold at this place
  double measured, U;         ///< U = coverage factor · u
  Conformity decision;        ///< by ISO 14253-1; not_judged: it has no limits
  double area;                ///< that it is of, mm²
};

namespace report {

/// The verdict on the whole and on each zone, the gap nearest to each of its limits (the place that decides), what is
/// not measured, the mean deviation, and that of each deviating region. Of what result.json holds. Empty where the
/// registration is in doubt.
std::vector<Characteristic> characteristics(const Inspection&);
/// RFC 4180, a row each.
std::string characteristics_csv(const Inspection&);
/// With what the list was made of: version, hashes, decision rule, coverage factor, verdict.
std::string characteristics_json(const Inspection&);

}  // namespace report
}  // namespace gapfront
