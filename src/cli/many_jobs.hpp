// Many jobs: each in a process of its own, as many at once as cores and memory allow; a table or JSON lines at the end.
#pragma once
#include <optional>
#include <string>

#include "cli/commands.hpp"
#include "gapfront/inspection.hpp"

namespace gapfront::cli {

struct ManyJobs {
  ManyArguments which;
  bool recheck = false;  ///< otherwise inspect
  bool record = false;   ///< into the tool's history, whatever the job says
  std::filesystem::path output;
  std::string fail_on, against;
  bool json = false, quiet = false;
};

bool many_asked(const ManyArguments&);

/// Runs those that are not finished; a job that fails is named and the others go on. Returns the worst exit code: 130
/// (stopped), 1 (not done), 2 (in doubt), 3 (the verdict that --fail-on names), 0.
int run_many(const ManyJobs&);

/// Of the files of a re-check: one against another date than the baseline stands beside where the tool stands since
/// then.
inline std::string recheck_stem(const std::string& against) {
  return against.empty() || against == "baseline" ? "recheck" : "recheck-against-" + against;
}

// ---- finished.cpp
/// What the job's report folder holds, if it is of this job file, these scans and this program, whole as it was
/// written, and in the tool's history where it belongs there. `against`: as of a re-check.
std::optional<Inspection> finished_result(const Job&, const ManyJobs&);

/// The files of re-checks in the job's report folder that are not of this inspection: all of them where it is in doubt.
/// `rows_sha256`: of the history's rows it counts; a re-check against an earlier date that counted others is stale too.
/// Empty: not known. Of a new baseline (`baseline`) all are stale, as they speak of the one before.
std::vector<std::string> stale_rechecks(const Inspection&, const std::string& rows_sha256, bool baseline);

// ---- machine.cpp
/// Memory in bytes that an inspection takes at most, estimated from the size of its scans.
double memory_needed(const Job&);
/// Memory in bytes that is free for it: of the machine, or of the control group it runs in.
double memory_free();

// ---- child.cpp
/// This program once more, on one job, with so many threads. It ends with the process that started it.
class Child {
 public:
  Child(const std::vector<std::string>& arguments, int threads);
  Child(Child&&) noexcept;
  Child(const Child&) = delete;
  ~Child();
  int pid() const { return pid_; }
  void interrupt() const;
  /// What it has said on stderr, once it has ended: its last line, without the program's name.
  std::string complaint() const;

 private:
  int pid_ = -1, said_ = -1;
};
/// From here on SIGINT and SIGTERM are heard by wait_for_child() alone.
void hold_signals();
struct Ended {
  int pid = -1, code = 0;  ///< pid −1: none has ended; the user, or whoever started this, wants it to stop
  double peak = 0;         ///< memory, bytes
};
/// Waits for the next one to end.
Ended wait_for_child();

}  // namespace gapfront::cli
