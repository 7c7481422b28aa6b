// What holds the mold shut, as JSON: written and read back.
#pragma once
#include <nlohmann/json.hpp>

#include "gapfront/inspection.hpp"

namespace gapfront::report {

using Ordered = nlohmann::ordered_json;

Ordered opening_json(const Opening&);
Ordered closing_json(const Closing&);
Ordered zones_json(const std::vector<ZoneState>&);
/// Names, counts and sources of the plies; `zone` empty: everywhere.
Ordered plies_json(const LaminateOptions&);
Ordered advice_json(const ProcessAdvice&);
Ordered breathing_json(const Breathing&);  ///< without its front

Opening read_opening(const nlohmann::json&);
Closing read_closing(const nlohmann::json&);
std::vector<ZoneState> read_zones(const nlohmann::json&);
void read_plies(const nlohmann::json&, LaminateOptions&);
ProcessAdvice read_advice(const nlohmann::json&);
Breathing read_breathing(const nlohmann::json&);

}  // namespace gapfront::report
