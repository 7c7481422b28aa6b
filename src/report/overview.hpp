// The first picture of a report: the tool in plan, with what was found in it, by number.
#pragma once
#include <string>
#include <vector>

#include "report/html.hpp"

namespace gapfront::report {

/// A place that the first screen speaks of: the worst of a deviating region, or air that stays.
struct NumberedPlace {
  int number;  ///< from 1, as on the map
  Vec3 at;
  std::string region;  ///< of the verdict; empty: the worst node of all, or air
  bool air = false;
  double area = 0;                                        ///< mm²: of the region, or dry
  double gap = 0, U = 0, nominal = 0, low = 0, high = 0;  ///< at `at`, mm; not of air
  bool wide() const { return gap > nominal; }
};
/// Regions first, the largest volume first; then what deviates most if that is in none; then air. A few of each.
std::vector<NumberedPlace> numbered_places(const Inspection&);
/// "place 2": for sentences.
Argument place_number(int number);
/// Whether a correction names that region among those that it cures.
bool works_on(const Correction&, const std::string& region);
/// Where in the page the row of a region stands.
std::string row_id(const std::string& name);

/// The map with its key. Links lead from numbers to rows.
std::string overview_map(const Inspection&, const std::vector<NumberedPlace>&);

/// The numbers in words; each shows its place, and the name of its correction leads to that.
std::string place_list(const Inspection&, const std::vector<NumberedPlace>&, const Voice&);

/// Verdict, map, and three lines: cause, what to do, what comes of it.
std::string first_screen(const Inspection&);

}  // namespace gapfront::report
