// How much memory a job takes, and how much there is.
#include <algorithm>
#include <fstream>
#include <limits>
#include <string>

#include "cli/many_jobs.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;

// Measured: 297 MB for 2 × 1 million points, 24 MB of binary files; 144 MB for 2 × 97,000; 114 MB for a demo mold with
// 4,400 nodes and 64 draws. Both constants are rounded up; a text takes fewer bytes of memory for a byte of the file.
constexpr double kPerByte = 12;
// Sheet, fillings and report.
constexpr double kBesides = 300e6;

/// A number in a file of one number; infinity where there is none.
double number_in(const fs::path& file) {
  std::ifstream in(file);
  double v = 0;
  return in >> v ? v : std::numeric_limits<double>::infinity();
}

double available() {
  std::ifstream in("/proc/meminfo");
  std::string name, unit;
  for (double kb = 0; in >> name >> kb && std::getline(in, unit);)
    if (name == "MemAvailable:") return 1024 * kb;
  return std::numeric_limits<double>::infinity();
}

}  // namespace

double memory_needed(const Job& job) {
  double bytes = 0;
  for (const HalfInput* half : {&job.lower, &job.upper}) {
    std::error_code fault;
    const auto size = fs::file_size(half->file, fault);
    if (!fault) bytes += static_cast<double>(size);
  }
  return kBesides + kPerByte * bytes;
}

double memory_free() {
  double out = available();
  // A batch system gives a job less than the machine has: a control group of version 2.
  std::ifstream in("/proc/self/cgroup");
  for (std::string line; std::getline(in, line);) {
    if (!line.starts_with("0::/")) continue;
    for (fs::path group = fs::path("/sys/fs/cgroup") / line.substr(4); group.string().starts_with("/sys/fs/cgroup");
         group = group.parent_path())
      out = std::min(out, number_in(group / "memory.max"));  // "max", no limit, is no number
  }
  return out;
}

}  // namespace gapfront::cli
