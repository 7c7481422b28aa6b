// How much memory a job takes, and how much there is.
#include <algorithm>
#include <fstream>
#include <limits>
#include <string>

#include "cli/many_jobs.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;

// Measured (tools/bench): 75 to 110 bytes a point at the peak; a point takes 12 bytes of a binary file, 24 in double
// precision, some 30 as text.
constexpr double kPerByte = 8;
// Sheet, fillings and report, for some 50,000 nodes.
constexpr double kBesides = 400e6;

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
