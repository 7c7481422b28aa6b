// The pages that are made from a JSON file of their own.
#pragma once
#include <string>

#include "report/json_parts.hpp"

namespace gapfront::report {

std::string recheck_page(const Json&);
std::string diagnosis_page(const Json&);

}  // namespace gapfront::report
