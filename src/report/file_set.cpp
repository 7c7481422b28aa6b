// Writing files that belong together: all or nothing, each replaced in one step, and told apart from another run's.
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <fstream>
#include <iterator>
#include <map>
#include <thread>

#include "core/sha256.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"

namespace gapfront::report {
namespace {

namespace fs = std::filesystem;

constexpr const char* kChecksums = "checksums.sha256";
constexpr const char* kPart = ".part-";
// Another run writes its files within a second or two; ten are enough for a slow network disk, and short for a person.
constexpr std::chrono::seconds kPatience{10};

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

fs::path part_of(const fs::path& folder, const std::string& name) {
  return folder / ("." + name + kPart + std::to_string(::getpid()));
}

/// All are written before the first is renamed; where that fails nothing is left behind.
void replace_files(const fs::path& folder, const FileSet& files) {
  try {
    for (const auto& [name, text] : files) write_whole(part_of(folder, name), text);
    for (const auto& [name, text] : files) fs::rename(part_of(folder, name), folder / name);
  } catch (...) {
    std::error_code fault;
    for (const auto& [name, text] : files) fs::remove(part_of(folder, name), fault);
    throw;
  }
}

/// One run at a time writes into a folder. A file system that knows no locks goes without.
class FolderLock {
 public:
  explicit FolderLock(const fs::path& folder) : fd_(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
    for (const auto stop = std::chrono::steady_clock::now() + kPatience; fd_ >= 0;) {
      if (::flock(fd_, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK) return;
      if (std::chrono::steady_clock::now() > stop) {
        ::close(fd_);
        throw Error(Fault::input, folder.string() +
                                      ": another gapfront writes into this folder; run this again when it has ended, "
                                      "or choose another folder with --output");
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  }
  ~FolderLock() {
    if (fd_ < 0) return;
    ::fsync(fd_);  // the renames themselves reach the disk with the folder
    ::close(fd_);
  }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;

 private:
  int fd_;
};

std::string bytes_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Checksum by file name, as the list in the folder has them.
std::map<std::string, std::string> listed(const fs::path& folder) {
  std::map<std::string, std::string> out;
  std::ifstream in(folder / kChecksums);
  for (std::string line; std::getline(in, line);)
    if (line.size() > 66 && line.substr(64, 2) == "  ") out[line.substr(66)] = line.substr(0, 64);
  return out;
}

std::string list_of(const std::map<std::string, std::string>& sums) {
  std::string out;
  for (const auto& [name, sum] : sums) out += sum + "  " + name + "\n";
  return out;
}

/// A result of this program, by how its file begins.
bool holds_result(const fs::path& folder) {
  std::ifstream in(folder / "result.json", std::ios::binary);
  std::string begin(60, '\0');
  in.read(begin.data(), static_cast<std::streamsize>(begin.size()));
  return begin.find("\"format\": \"gapfront result\"") != std::string::npos;
}

/// What a run that was killed or ran out of space has left of these files. Under the lock nobody else is writing.
void sweep(const fs::path& folder, const FileSet& files) {
  std::error_code fault;
  std::vector<fs::path> left;
  for (const auto& entry : fs::directory_iterator(folder, fault)) {
    const std::string name = entry.path().filename().string();
    const auto of = [&](const std::string& file) { return name.starts_with("." + file + kPart); };
    if (of(kChecksums) || std::any_of(files.begin(), files.end(), [&](const auto& f) { return of(f.first); }))
      left.push_back(entry.path());
  }
  for (const fs::path& file : left) fs::remove(file, fault);
}

}  // namespace

void write_set(const fs::path& folder, const FileSet& files, const std::vector<std::string>& gone) {
  std::error_code fault;
  fs::create_directories(folder, fault);
  if (fault)
    throw Error(Fault::input, folder.string() + ": the report folder cannot be made (" + fault.message() +
                                  "); choose another with --output");
  const FolderLock lock(folder);
  std::vector<std::string> names = gone;
  for (const auto& [name, text] : files) names.push_back(name);
  refuse_foreign(folder, names);
  sweep(folder, files);
  auto sums = listed(folder);
  // What somebody has deleted is no part of a report that is made anew, or its folder would never be whole again.
  if (std::any_of(files.begin(), files.end(), [](const auto& f) { return f.first == "result.json"; }))
    for (const std::string& name : missing_files(folder)) sums.erase(name);
  // What is new is in the list before it is there, by a checksum that no file has: a set that is cut off stays the
  // program's own, and does not agree with its list.
  const std::size_t known = sums.size();
  for (const auto& [name, text] : files) sums.emplace(name, std::string(64, '0'));
  if (sums.size() > known) replace_files(folder, {{kChecksums, list_of(sums)}});
  for (const std::string& name : gone) sums.erase(name);
  for (const auto& [name, text] : files) sums[name] = sha256(text);
  FileSet all = files;
  all.push_back({kChecksums, list_of(sums)});  // the last: a set that was cut off half-way does not agree with its list
  replace_files(folder, all);
  for (const std::string& name : gone) fs::remove(folder / name, fault);
}

std::vector<std::string> foreign_files(const fs::path& folder, const std::vector<std::string>& names) {
  std::vector<std::string> out;
  std::error_code fault;
  const auto sums = listed(folder);
  if (sums.empty() && holds_result(folder)) return out;
  for (const std::string& name : names) {
    // A page's PDF is made of it later.
    const fs::path page = fs::path(name).replace_extension(".html");
    const bool ours = sums.count(name) > 0 || (name.ends_with(".pdf") && sums.count(page.string()) > 0);
    if (!ours && fs::exists(fs::symlink_status(folder / name, fault))) out.push_back(name);
  }
  return out;
}

void refuse_foreign(const fs::path& folder, const std::vector<std::string>& names) {
  const auto foreign = foreign_files(folder, names);
  if (!foreign.empty())
    throw Error(Fault::input,
                (folder / foreign.front()).string() +
                    ": is not a file that gapfront wrote there, and would be overwritten or removed; move "
                    "it away, or choose another folder with --output");
}

std::vector<std::string> changed_files(const fs::path& folder) {
  std::vector<std::string> out;
  std::error_code fault;
  for (const auto& [name, sum] : listed(folder))
    if (fs::is_regular_file(folder / name, fault) && sha256(bytes_of(folder / name)) != sum) out.push_back(name);
  return out;
}

std::vector<std::string> missing_files(const fs::path& folder) {
  std::vector<std::string> out;
  std::error_code fault;
  for (const auto& [name, sum] : listed(folder))
    if (!fs::exists(folder / name, fault)) out.push_back(name);
  return out;
}

void write_file(const fs::path& file, const std::string& text) {
  replace_files(file.parent_path(), {{file.filename().string(), text}});
}

}  // namespace gapfront::report
