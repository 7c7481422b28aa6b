#include "pipeline/places.hpp"

#include <unistd.h>

#include "gapfront/error.hpp"

namespace gapfront::pipeline {
namespace {

bool writable_folder(const std::filesystem::path& folder) {
  std::error_code error;
  return std::filesystem::is_directory(folder, error) && ::access(folder.c_str(), W_OK) == 0;
}

}  // namespace

void check_report_place(const std::filesystem::path& folder) {
  std::error_code error;
  auto there = std::filesystem::absolute(folder);
  while (!std::filesystem::exists(there, error) && there.has_relative_path()) there = there.parent_path();
  if (!writable_folder(there))
    throw Error(Fault::input, folder.string() + ": the report folder cannot be made in " + there.string() +
                                  "; choose another with --output");
}

void check_history_place(const std::filesystem::path& file) {
  std::error_code error;
  if (std::filesystem::exists(file, error)) return;  // History itself says what is wrong with a file
  if (!writable_folder(std::filesystem::absolute(file).parent_path()))
    throw Error(Fault::input, file.string() +
                                  ": the history cannot be opened (unable to open database file); check that the "
                                  "folder exists and is yours");
}

}  // namespace gapfront::pipeline
