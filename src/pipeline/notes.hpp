// What an inspection warns of beside its numbers.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// Adds the lines that are not there yet.
void append(std::vector<std::string>& to, const std::vector<std::string>& from);
/// The clauses as one line, "; " between them; empty where there is none.
std::string in_one_line(const std::vector<std::string>& clauses);

/// A negative gap is no gap: said with its place, wherever it is more than its own uncertainty.
std::vector<std::string> crossing_warning(const Measured&);
/// The shift that the spot readings have in common, once it is significant.
std::string shift_warning(const SpotShift&, UnitSystem);
/// What the gap does to the glass and the clamping, said once and early: the maps alone are easily overlooked.
std::vector<std::string> reinforcement_warnings(const Predicted&);

}  // namespace gapfront::pipeline
