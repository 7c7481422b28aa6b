#include <fstream>
#include <iostream>

#include "cli/commands.hpp"
#include "gapfront/error.hpp"
#include "gapfront/job.hpp"

namespace gapfront::cli {

int run_new(const NewArguments& arguments) {
  namespace fs = std::filesystem;
  const fs::path file = arguments.output.empty() ? fs::path("job.toml") : arguments.output;
  if (fs::exists(file) && !arguments.force)
    throw Error(Fault::input, file.string() + ": exists already; choose another name with -o, or add --force");
  const std::string text = draft_job(arguments.lower, arguments.upper, file.parent_path());
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
    throw Error(Fault::input, file.string() + ": cannot be written; check that the folder exists and is yours");
  }
  std::cout << "Wrote " << file.string() << "\nRead it through, put in your numbers, then: gapfront inspect "
            << file.string() << "\n";
  return 0;
}

}  // namespace gapfront::cli
