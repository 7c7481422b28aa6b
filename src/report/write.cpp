// Writing the report folder: all or nothing, each file replaced in one step.
#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <utility>
#include <vector>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"

namespace gapfront::report {
namespace {

namespace fs = std::filesystem;

void write_whole(const fs::path& file, const std::string& text) {
  const int fd = ::open(file.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  std::size_t done = 0;
  bool ok = fd >= 0;
  while (ok && done < text.size()) {
    const ssize_t n = ::write(fd, text.data() + done, text.size() - done);
    if (n < 0 && errno == EINTR) continue;
    ok = n > 0;
    if (ok) done += n;
  }
  ok = ok && ::fsync(fd) == 0;
  const int why = errno;
  if (fd >= 0) ::close(fd);
  if (!ok)
    throw Error(Fault::input, file.string() + ": cannot be written (" + std::strerror(why) +
                                  "); free some space or choose another folder with --output");
}

}  // namespace

void write_file(const fs::path& file, const std::string& text) {
  const fs::path part = file.parent_path() / ("." + file.filename().string() + ".part-" + std::to_string(::getpid()));
  std::error_code fault;
  try {
    write_whole(part, text);
    fs::rename(part, file);
  } catch (...) {
    fs::remove(part, fault);
    throw;
  }
}

void write_report(const Inspection& r, const fs::path& folder) {
  const std::string json = result_json(r);
  const Inspection again = read_result(json);
  std::vector<std::pair<std::string, std::string>> files = {{"result.json", json},
                                                            {"corrections.csv", corrections_csv(r)},
                                                            {"sheet.ply", sheet_ply(r)},
                                                            {"sheet.vtu", sheet_vtu(r)},
                                                            {"report.html", report_html(again)}};
  for (auto& file : work_files(again)) files.push_back(std::move(file));
  std::error_code fault;
  fs::create_directories(folder, fault);
  if (fault)
    throw Error(Fault::input, folder.string() + ": the report folder cannot be made (" + fault.message() +
                                  "); choose another with --output");
  const std::string suffix = ".part-" + std::to_string(::getpid());
  auto part = [&](const std::string& name) { return folder / ("." + name + suffix); };
  try {
    for (const auto& [name, text] : files) write_whole(part(name), text);
    for (const auto& [name, text] : files) fs::rename(part(name), folder / name);
  } catch (...) {
    for (const auto& [name, text] : files) fs::remove(part(name), fault);
    throw;
  }
  // A template of an earlier run beside a work order that does not name it would be cut out and used.
  for (const auto& entry : fs::directory_iterator(folder, fault)) {
    const std::string name = entry.path().filename().string();
    const bool ours = name == "work-order.html" || name == "work-order.pdf" || name == "templates.pdf" ||
                      (name.starts_with("template-C") && name.ends_with(".svg"));
    if (ours && std::none_of(files.begin(), files.end(), [&](const auto& f) { return f.first == name; }))
      fs::remove(entry.path(), fault);
  }
  // The renames themselves reach the disk with the folder's own fsync.
  if (const int fd = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); fd >= 0) {
    ::fsync(fd);
    ::close(fd);
  }
}

}  // namespace gapfront::report
