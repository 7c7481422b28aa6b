// Scan files written byte by byte for the tests, in a folder of their own.
#pragma once
#include <unistd.h>
#include <algorithm>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"

namespace files {

inline std::filesystem::path write(const std::string& name, const std::string& bytes) {
  const auto folder = std::filesystem::temp_directory_path() / ("gapfront-scan-test-" + std::to_string(getpid()));
  std::filesystem::create_directories(folder);
  std::ofstream(folder / name, std::ios::binary) << bytes;
  return folder / name;
}

/// The bytes of a number, least significant first, or reversed.
template <class T>
std::string bytes(T value, bool big = false) {
  std::string s(sizeof(T), '\0');
  std::memcpy(s.data(), &value, sizeof(T));
  if (big) std::reverse(s.begin(), s.end());
  return s;
}

/// The one line of the error that reading gives; empty when there is none.
inline std::string fault(const std::filesystem::path& file, const gapfront::ReadOptions& options = {}) {
  try {
    gapfront::scan::read_scan(file, options);
  } catch (const gapfront::Error& e) {
    return e.fault == gapfront::Fault::input ? e.what() : "not an input fault";
  }
  return "";
}

inline bool has(const std::string& text, const std::string& part) { return text.find(part) != text.npos; }

}  // namespace files
