// Bytes as a file, for readers that take a path.
#pragma once
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>
#include <string_view>

#include "fuzz/targets.hpp"
#include "gapfront/error.hpp"

namespace fuzz {

/// A file of this process alone, in memory where there is such a folder; one name, written anew each time.
class AsFile {
 public:
  AsFile(std::string_view bytes, const std::string& extension) {
    static const bool memory = access("/dev/shm", W_OK) == 0;
    path = (memory ? std::filesystem::path("/dev/shm") : std::filesystem::temp_directory_path()) /
           ("gapfront-fuzz-" + std::to_string(getpid()) + extension);
    std::ofstream out(path, std::ios::binary);
    out.write(bytes.data(), std::streamsize(bytes.size()));
    if (!out.flush()) throw std::runtime_error(path.string() + ": cannot be written");
  }
  ~AsFile() {
    std::error_code ignored;
    std::filesystem::remove(path, ignored);
  }
  AsFile(const AsFile&) = delete;
  AsFile& operator=(const AsFile&) = delete;

  std::filesystem::path path;
};

/// Runs `reading`; an Error of one line is a refusal.
template <class F>
Outcome outcome_of(F&& reading) {
  try {
    reading();
    return {};
  } catch (const gapfront::Error& e) {
    const std::string why = e.what();
    if (why.empty() || why.find('\n') != why.npos) throw std::logic_error("a refusal that is not one line: " + why);
    return {false, why};
  }
}

}  // namespace fuzz
