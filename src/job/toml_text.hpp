// What the TOML library must not be given.
#pragma once
#include <algorithm>
#include <filesystem>
#include <string>

#include "gapfront/error.hpp"

namespace gapfront::job {

/// Throws Error{Fault::input} with the line where a key has so many parts that the library, which goes down a dotted
/// key by calling itself, runs out of stack; and where a character beyond ASCII stands outside quotes and remarks: TOML
/// allows none there, and the library (3.2) has no defined answer for some.
void refuse_text_that_harms(const std::string& text, const std::filesystem::path& file);

/// What `read` gives. Names and keys of a file may hold line ends, and its refusals quote them.
template <class Read>
auto refused_in_one_line(Read&& read) {
  try {
    return read();
  } catch (const Error& e) {
    std::string line = e.what();
    std::replace_if(
        line.begin(), line.end(), [](char c) { return c == '\n' || c == '\r'; }, ' ');
    throw Error(e.fault, line);
  }
}

}  // namespace gapfront::job
