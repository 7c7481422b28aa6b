#include <unistd.h>

#include <iostream>
#include <utility>

#include "cli/commands.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/job.hpp"
#include "gapfront/survey.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;

/// my.toml → my.setup.html, beside it.
fs::path setup_page_of(const fs::path& job) { return job.parent_path() / (job.stem().string() + ".setup.html"); }

/// Before the scans are read, which may take a minute.
void refuse_unwritable(const fs::path& file) {
  if (::access(fs::absolute(file).parent_path().c_str(), W_OK) != 0)
    throw Error(Fault::input, file.string() + ": cannot be written; check that the folder exists and is yours");
}

void say_next(const Survey& found, const fs::path& job, const fs::path& page) {
  std::cout << "Open        " << page.string() << " in a browser: check what was found, point at the rest, save\n"
            << "Then        " << (found.closed ? "" : "give targets, and ") << "gapfront inspect " << job.string()
            << "\n";
}

int edit(const NewArguments& a) {
  if (!a.lower.empty() || !a.output.empty())
    throw Error(Fault::input, "--edit: takes the job file alone; it names the scans itself");
  const Job job = job::read_job(a.edit);
  for (const HalfInput* half : {&job.lower, &job.upper}) {
    // Without an upper scan its file is the list of readings.
    if (half == &job.upper && job.readings_use == ReadingsUse::alone) continue;
    check_scan_file(half->file);
    for (const PatchInput& p : half->more) {
      check_scan_file(p.file);
      if (!p.pose.empty()) check_input_file(p.pose);
    }
  }
  const fs::path page = setup_page_of(a.edit);
  refuse_unwritable(page);
  const Survey found = pipeline::survey_job(job, terminal_progress(false));
  clear_progress();
  const std::string language = a.language.empty() ? job.language : a.language;
  report::write_file(page, report::setup_html(found, {job.text, a.edit.filename().string(), language,
                                                      job.photo.empty() ? "" : job::read_photo(job.photo)}));
  std::cout << "Wrote " << page.string() << "\n";
  print_pair(found, std::cout);
  say_next(found, a.edit, page);
  return 0;
}

}  // namespace

int run_new(const NewArguments& arguments) {
  if (!arguments.edit.empty()) return edit(arguments);
  for (const auto& [name, scan] : {std::pair{"LOWER", &arguments.lower}, std::pair{"UPPER", &arguments.upper}})
    if (scan->empty()) throw Error(Fault::input, std::string("new: ") + name + " is missing; see gapfront new --help");
  const fs::path file = arguments.output.empty() ? fs::path("job.toml") : arguments.output;
  if (fs::exists(file) && !arguments.force)
    throw Error(Fault::input, file.string() + ": exists already; choose another name with -o, or add --force");
  for (const auto& scan : {arguments.lower, arguments.upper}) check_scan_file(scan);
  refuse_unwritable(file);
  const Survey found = pipeline::survey_pair(arguments.lower, arguments.upper, {}, terminal_progress(false));
  clear_progress();
  const std::string text = pipeline::draft_job(found, file.parent_path());
  const fs::path page = setup_page_of(file);
  const std::string language = arguments.language.empty() ? "en" : arguments.language;
  report::write_file(page, report::setup_html(found, {text, file.filename().string(), language, ""}));
  report::write_file(file, text);
  std::cout << "Wrote " << file.string() << " and " << page.string() << "\n";
  print_pair(found, std::cout);
  say_next(found, file, page);
  return 0;
}

}  // namespace gapfront::cli
