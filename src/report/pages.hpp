// The pages that are made from a JSON file of their own.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"
#include "report/describe/diagnosis.hpp"
#include "report/describe/recheck.hpp"
#include "report/describe/shot.hpp"

namespace gapfront::report {

/// read_result() of what is parsed already; its errors are the same.
Inspection result_in(const Json&);
/// Errors are Error{Fault::input} that name the way to the key and what is wrong with it.
RecheckFile read_recheck(const Json&);
DiagnosisFile read_diagnosis(const Json&);
std::string recheck_page(const RecheckFile&);
std::string diagnosis_page(const DiagnosisFile&);
ShotFile read_shot(const Json&);
std::string shot_page(const ShotFile&);

}  // namespace gapfront::report
