#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <sstream>
#include <thread>

#include "cli/commands.hpp"
#include "core/letters.hpp"
#include "core/sha256.hpp"
#include "gapfront/characteristics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;

// A report is printed in a few seconds; a browser that takes longer than this hangs (own choice).
constexpr std::chrono::seconds kPatience{120};

fs::path find_chromium() {
  std::istringstream folders(std::getenv("PATH") ? std::getenv("PATH") : "");
  for (std::string folder; std::getline(folders, folder, ':');)
    if (fs::path file = fs::path(folder) / "chromium"; ::access(file.c_str(), X_OK) == 0) return file;
  throw Error(Fault::input, "--pdf: no chromium is installed; install it, or open report.html and print it to PDF");
}

std::string slurp(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw Error(Fault::input, file.string() + ": cannot be opened; give the folder that gapfront inspect wrote");
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Waits for the browser; one that hangs is stopped. False: it had to be.
bool ended(pid_t child, int& status) {
  for (const auto stop = std::chrono::steady_clock::now() + kPatience; std::chrono::steady_clock::now() < stop;) {
    if (::waitpid(child, &status, WNOHANG) == child) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  ::kill(-child, SIGKILL);  // with the processes that it has started
  ::waitpid(child, &status, 0);
  return false;
}

/// A profile of its own, so that a browser that is open is left alone.
struct Profile {
  std::string folder = (fs::temp_directory_path() / "gapfront-pdf-XXXXXX").string();
  Profile() {
    if (!::mkdtemp(folder.data())) throw Error(Fault::input, "--pdf: no temporary folder; set TMPDIR to one");
  }
  ~Profile() {
    std::error_code ignored;
    fs::remove_all(folder, ignored);
  }
};

void print_pdf(const fs::path& chromium, const fs::path& page, const fs::path& pdf) {
  const Profile profile;
  const fs::path made = fs::path(profile.folder) / "report.pdf";
  std::vector<std::string> words = {chromium.string(), "--headless", "--disable-gpu", "--disable-background-networking",
                                    "--no-pdf-header-footer", "--user-data-dir=" + profile.folder,
                                    // Time for the page to unpack its sheet and draw the section.
                                    "--virtual-time-budget=5000", "--print-to-pdf=" + made.string(),
                                    "file://" + url_path(fs::absolute(page).string())};
  if (::geteuid() == 0) words.insert(words.begin() + 1, "--no-sandbox");  // Chromium's sandbox refuses root
  std::vector<char*> arguments;
  for (auto& w : words) arguments.push_back(w.data());
  arguments.push_back(nullptr);
  const pid_t child = ::fork();
  if (child == 0) {
    ::setpgid(0, 0);  // a group of its own, to be stopped as a whole
    if (!std::freopen("/dev/null", "w", stdout) || !std::freopen("/dev/null", "w", stderr)) ::_exit(127);
    ::execv(arguments[0], arguments.data());
    ::_exit(127);
  }
  int status = -1;
  if (child > 0 && !ended(child, status))
    throw Error(Fault::input, "--pdf: chromium did not end in " + std::to_string(kPatience.count()) +
                                  " s and was stopped; open " + page.string() + " and print it to PDF");
  std::error_code fault;
  if (child < 0 || !WIFEXITED(status) || WEXITSTATUS(status) != 0 || !fs::exists(made, fault))
    throw Error(Fault::input, "--pdf: chromium made no PDF; open " + page.string() + " and print it to PDF");
  report::write_file(pdf, slurp(made));
}

/// Files of another run beside the result: those that are written now are put right, the others are named.
void say_what_changed(const fs::path& folder, const fs::path& result, const FileSet& files) {
  std::string others;
  for (const std::string& name : report::changed_files(folder)) {
    if (name == result.filename().string()) {
      std::cout << "Note: " << name << " is not as it was written (edited, or of another run than its folder)\n";
    } else if (std::none_of(files.begin(), files.end(), [&](const auto& f) { return f.first == name; })) {
      others += (others.empty() ? "" : ", ") + name;
    }
  }
  if (!others.empty())
    std::cout << "Note: not written together with the rest of the folder, or edited since: " << others
              << "; gapfront inspect writes them anew\n";
}

/// Files of a signed record that are written as others now: said, because no one would look at the signature before it
/// is needed.
void say_what_was_signed(const fs::path& folder, const FileSet& files) {
  std::ifstream in(folder / "record.json", std::ios::binary);
  const auto record = nlohmann::json::parse(in, nullptr, false);
  if (!record.is_object() || !record.contains("files") || !record["files"].is_array()) return;
  std::string changed;
  for (const auto& f : record["files"])
    for (const auto& [name, content] : files)
      if (f.is_object() && f.value("name", nlohmann::json()) == name &&
          f.value("sha256", nlohmann::json()) != sha256(content))
        changed += (changed.empty() ? "" : ", ") + name;
  if (!changed.empty())
    std::cerr << "Note: the signature of " << folder.string()
              << " no longer holds: written as others than were signed: " << changed
              << "; sign the folder again with gapfront record\n";
}

/// The films of a result, beside its page: as measured and, where corrections were chosen, after them.
FileSet films_of(const std::string& text, const std::string& language) {
  Inspection r = report::read_result(text);
  if (!language.empty()) r.job.language = language;
  FileSet out = {{"fronts.png", report::film_png(r, false)}};
  if (!r.plan.chosen.empty()) out.push_back({"fronts-after.png", report::film_png(r, true)});
  return out;
}

}  // namespace

int run_report(const ReportArguments& arguments) {
  fs::path result = arguments.result;
  if (fs::is_directory(result)) result /= "result.json";
  const fs::path chromium = arguments.pdf ? find_chromium() : fs::path();  // before anything is written
  const std::string text = slurp(result);
  Page made;
  FileSet films;
  if (arguments.film && result.filename() != "result.json")
    throw Error(Fault::input, "--film: " + result.string() + " holds no fronts; give the folder of a result.json");
  try {
    made = report::page_of(text, arguments.language);
    if (arguments.film) films = films_of(text, arguments.language);
  } catch (const Error& e) {
    throw Error(e.fault, result.string() + ": " + e.what());
  }
  // result.json has report.html, and the work order and templates beside it; the others share the name.
  const bool main_result = result.filename() == "result.json";
  const fs::path named = main_result ? "report.html" : result.filename().replace_extension(".html");
  if (!arguments.output.empty() || !main_result) made.besides.clear();
  const fs::path page = arguments.output.empty() ? result.parent_path() / named : arguments.output;
  if (std::error_code fault; fs::equivalent(page, result, fault))
    throw Error(Fault::input, page.string() +
                                  ": is the result itself, which the page would overwrite; give another "
                                  "--output");
  FileSet files = {{page.filename().string(), made.html}};
  files.insert(files.end(), made.besides.begin(), made.besides.end());
  say_what_was_signed(page.has_parent_path() ? page.parent_path() : ".", files);
  if (arguments.output.empty()) {
    const fs::path folder = result.has_parent_path() ? result.parent_path() : ".";
    say_what_changed(folder, result, files);
    report::write_set(folder, files);
  } else {
    report::write_file(page, made.html);
  }
  for (const auto& [name, film] : films) {
    report::write_file(page.parent_path() / name, film);
    std::cout << "Wrote " << (page.parent_path() / name).string() << "\n";
  }
  std::vector<fs::path> pages;
  for (const auto& [name, content] : files) {
    const fs::path file = page.parent_path() / name;
    if (file.extension() == ".html") pages.push_back(file);
    std::cout << "Wrote " << file.string() << "\n";
  }
  for (const auto& one : pages) {
    if (!arguments.pdf) break;
    const fs::path pdf = fs::path(one).replace_extension(".pdf");
    print_pdf(chromium, one, pdf);
    std::cout << "Wrote " << pdf.string() << "\n";
  }
  return 0;
}

int run_schema(const std::string& what) {
  std::cout << (what == "job"         ? report::job_schema()
                : what == "recheck"   ? report::recheck_schema()
                : what == "diagnosis" ? report::diagnosis_schema()
                : what == "shot"      ? report::shot_schema()
                                      : report::result_schema());
  return 0;
}

int run_characteristics(const fs::path& given, bool json) {
  const fs::path result = fs::is_directory(given) ? given / "result.json" : given;
  const std::string text = slurp(result);
  try {
    const Inspection r = report::read_result(text);
    std::cout << (json ? report::characteristics_json(r) : report::characteristics_csv(r));
  } catch (const Error& e) {
    throw Error(e.fault, result.string() + ": " + e.what());
  }
  return 0;
}

int run_fields() {
  std::cout << report::field_list();
  return 0;
}

}  // namespace gapfront::cli
