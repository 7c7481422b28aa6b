// A result.json from outside, held against the program's own schema before anything is taken from it.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

namespace gapfront::report {

/// What is wrong first, with the way to it ("corrections.candidates.2.kind: …"); empty where nothing is. Beyond the
/// schema: nodes are on the sheet, numbers are of a size that a mold has, lists that belong together are as long.
/// Keys that the schema does not know are let pass.
std::string result_fault(const nlohmann::json& result);

}  // namespace gapfront::report
