// One exception type: what went wrong, where, and what to do about it, in one line.
#pragma once
#include <algorithm>
#include <stdexcept>
#include <string>
#include <utility>

namespace gapfront {

/// Whose fault it is.
enum class Fault {
  input,        ///< bad usage, job file or scan file (exit code 1)
  measurement,  ///< the input is readable but cannot be registered or measured (exit code 2)
  cancelled,    ///< the progress callback asked to stop
};

/// `what()` is one line: place (file, line, key), fault, remedy.
struct Error : std::runtime_error {
  Fault fault;
  /// `text` for `what()`; a line end in it becomes a blank, since names and keys of a file, which it quotes, may hold
  /// some.
  Error(Fault f, std::string text) : std::runtime_error(one_line(std::move(text))), fault(f) {}

 private:
  static std::string one_line(std::string text) {
    std::replace_if(
        text.begin(), text.end(), [](char c) { return c == '\n' || c == '\r'; }, ' ');
    return text;
  }
};

}  // namespace gapfront
