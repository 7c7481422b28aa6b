// What the fleet's page and its table share.
#pragma once
#include <filesystem>
#include <string>

namespace gapfront::report {

/// The way to a file from a folder, with forward slashes; empty for no file.
std::string seen_from(const std::filesystem::path& folder, const std::filesystem::path& file);

}  // namespace gapfront::report
