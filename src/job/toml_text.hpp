// What the TOML library must not be given.
#pragma once
#include <filesystem>
#include <string>

namespace gapfront::job {

/// Throws Error{Fault::input} with the line where a key has so many parts that the library, which goes down a dotted
/// key by calling itself, runs out of stack; and where a character beyond ASCII stands outside quotes and remarks: TOML
/// allows none there, and the library (3.2) has no defined answer for some.
void refuse_text_that_harms(const std::string& text, const std::filesystem::path& file);

}  // namespace gapfront::job
