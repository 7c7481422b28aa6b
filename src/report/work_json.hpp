// The part of result.json that the work order and the templates are made from, both ways.
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "gapfront/inspection.hpp"

namespace gapfront::report {

/// More keys of a correction.
nlohmann::ordered_json work_of(const Correction&);
void read_work(const nlohmann::json& correction, Correction&);
/// More keys of the plan: what is left, the effort table, the moved ports.
nlohmann::ordered_json plan_extras(const CorrectionPlan&);
void read_plan_extras(const nlohmann::json& plan, CorrectionPlan&);
/// What an earlier inspection predicted, and how it came out.
nlohmann::ordered_json expectations(const Inspection&);
void read_expectations(const nlohmann::json& result, Inspection&);

}  // namespace gapfront::report
