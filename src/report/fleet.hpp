// What the fleet's page and its table share.
#pragma once
#include <filesystem>
#include <string>

#include "gapfront/fleet.hpp"

namespace gapfront::report {

/// The way to a file from a folder, with forward slashes; empty for no file.
std::string seen_from(const std::filesystem::path& folder, const std::filesystem::path& file);

/// The re-check whose next date is still to come; none where no re-check counts, the wear is at its limit
/// already, or a date is of the future.
const Recheck* planned(const FleetTool&);

}  // namespace gapfront::report
