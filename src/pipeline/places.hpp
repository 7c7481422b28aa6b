// Places that are written to after minutes of work: refused before it.
#pragma once
#include <filesystem>

namespace gapfront::pipeline {

/// A report folder that cannot be made or written. Nothing is made yet. Throws Error{Fault::input}.
void check_report_place(const std::filesystem::path& folder);
/// The same for a history file.
void check_history_place(const std::filesystem::path& file);

}  // namespace gapfront::pipeline
