// A job file, read; the scans it names are not.
#include "fuzz/as_file.hpp"
#include "gapfront/job.hpp"

fuzz::Outcome fuzz::job(std::string_view bytes) {
  const AsFile file(bytes, ".toml");
  return outcome_of([&] { gapfront::job::read_job(file.path); });
}
