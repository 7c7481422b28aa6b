// Progress and cancellation: one callback, handed down through every long stage.
#pragma once
#include <functional>
#include <string_view>

namespace gapfront {

/// Called with the stage name and the share done in [0,1]; return false to cancel, upon which the
/// stage throws Error{Fault::cancelled}. May be empty.
using Progress = std::function<bool(std::string_view stage, double fraction)>;

/// Calls `progress` if set; throws Error{Fault::cancelled} when it returns false.
void report_progress(const Progress& progress, std::string_view stage, double fraction);

}  // namespace gapfront
