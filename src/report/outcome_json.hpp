// The outcome in result.json.
#pragma once
#include "gapfront/inspection.hpp"
#include "report/json_parts.hpp"

namespace gapfront::report {

Json outcome_json(const Inspection&);
void read_outcome(const Json& result, Inspection&);

}  // namespace gapfront::report
