#include <unistd.h>

#include <fstream>
#include <iostream>

#include "cli/commands.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/survey.hpp"

namespace gapfront::cli {

int run_new(const NewArguments& arguments) {
  namespace fs = std::filesystem;
  const fs::path file = arguments.output.empty() ? fs::path("job.toml") : arguments.output;
  if (fs::exists(file) && !arguments.force)
    throw Error(Fault::input, file.string() + ": exists already; choose another name with -o, or add --force");
  for (const auto& scan : {arguments.lower, arguments.upper}) check_scan_file(scan);
  const auto refuse = [&] {
    throw Error(Fault::input, file.string() + ": cannot be written; check that the folder exists and is yours");
  };
  // Before the scans are read, which may take a minute.
  if (::access(fs::absolute(file).parent_path().c_str(), W_OK) != 0) refuse();
  const Progress progress = terminal_progress(false);
  const Survey found = pipeline::survey_pair(arguments.lower, arguments.upper, {}, progress);
  clear_progress();
  const std::string text = pipeline::draft_job(found, file.parent_path());
  // Whole or not at all: written beside, then renamed.
  const fs::path beside = file.string() + ".tmp";
  std::ofstream out(beside, std::ios::binary);
  out << text;
  out.close();
  std::error_code failed;
  if (out) fs::rename(beside, file, failed);
  if (!out || failed) {
    std::error_code ignored;
    fs::remove(beside, ignored);
    refuse();
  }
  std::cout << "Wrote " << file.string() << "\n";
  print_pair(found, std::cout);
  std::cout << "Read it through, put in your numbers, and take what you have checked off the list \"unconfirmed\".\n"
            << (found.closed ? "Then: gapfront inspect " : "Give targets in [align], then: gapfront inspect ")
            << file.string() << "\n";
  return 0;
}

}  // namespace gapfront::cli
