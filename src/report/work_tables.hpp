// The tables of one step of the work order.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"
#include "gapfront/text.hpp"

namespace gapfront::report {

/// The stack at each station: what is taken out or put in, and places to write in what was measured.
std::string shim_table(const Correction&, const Voice&);
/// Where the middle of the work is: in the tool frame, and by tape.
std::string place_table(const Correction&, const Voice&);
/// Area, thickness, volume, mass, mouth; nothing where the work has none of them.
std::string size_table(const Correction&, const Voice&);
/// The depth stops by their numbers, and places to write in what was measured; nothing without stops.
std::string stop_table(const Correction&, const Voice&);

}  // namespace gapfront::report
