// Figures for people with no more digits than they are known to.
#pragma once
#include <string>

#include "gapfront/units.hpp"

namespace gapfront {

/// A share of parts in percent, counted on some dozens of draws: whole, and below ten to a tenth, so that 4.7 % is
/// not read as the limit of 5 %.
std::string parts_percent(double fraction);
/// A forecast of cycles: two significant digits, as its interval is known no better.
std::string spoken_cycles(double cycles);
/// A bound from below as the same digits tell it, not above it: nobody waits longer than was proven.
double cycles_at_least(double);

/// Decimals of a value whose expanded uncertainty is U, both in one unit: so many that U has two significant digits
/// (JCGM 100:2008, 7.2.6), never more than `most`. Without U (0, not finite): `most`.
int decimals_for(double U, int most);

/// A time within a filling, to what its mesh resolves: half a percent of the fill time, as the nearest power of ten
/// (own measurement: halving the edge moves arrivals by that much). "8 min 42 s", "12.3 s"; "–" for never.
std::string time_in_fill(double s, double fill_time);
/// A minute or more: "8 min 42 s", "2 h 1 min".
std::string minutes_and_hours(double s);
/// Decimals of a second that this resolution asks for.
int second_decimals(double fill_time);

/// A distance as a tape finds it: whole mm, hundredths of an inch, with its unit.
std::string tape_length(double mm, UnitSystem);

/// Decimals of an area or a volume in cm², cm³, in², in³: its outline lies on the edges of a mesh, so that three digits
/// are the most it can claim, and the cell of a node the least.
int size_decimals(double shown, UnitSystem);

}  // namespace gapfront
