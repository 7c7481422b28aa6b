// One exception type: what went wrong, where, and what to do about it, in one line.
#pragma once
#include <stdexcept>
#include <string>

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
  /// One line for `what()`.
  Error(Fault f, const std::string& line) : std::runtime_error(line), fault(f) {}
};

}  // namespace gapfront
