#include "cli/many_jobs.hpp"

#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <iostream>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "core/letters.hpp"
#include "core/parallel.hpp"
#include "gapfront/error.hpp"
#include "gapfront/fleet.hpp"
#include "gapfront/history.hpp"
#include "gapfront/pipeline.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

// Of the free memory: the rest is for what else goes on, and for an estimate that was too low.
constexpr double kPartOfMemory = 0.8;

/// One job and what became of it.
struct JobRun {
  fs::path file;
  Job job;
  bool readable = false, waiting = false, unchanged = false;
  bool kept = false;            ///< finished, if what runs before it stores nothing
  std::set<std::string> alone;  ///< history and report folder: one run at a time in each
  double need = 0;              ///< memory, bytes
  int code = 0;
  std::string complaint;
  std::optional<Inspection> result;
  double seconds = 0, peak = 0;
};

/// The worst first.
int severity(int code) {
  constexpr int order[] = {0, 3, 2, 1, 130};
  const auto* at = std::find(std::begin(order), std::end(order), code);
  return at == std::end(order) ? 3 : static_cast<int>(at - order);  // ended by a signal, out of memory: not done
}

/// The same for every way of writing a file's name. A link to a job stands for itself: its scans lie beside the link.
fs::path place_of(const fs::path& file) {
  std::error_code fault;
  const fs::path folder = fs::weakly_canonical(fs::absolute(file).parent_path(), fault);
  return fault ? fs::absolute(file).lexically_normal() : folder / file.filename();
}

/// Reads the job files, and settles what each writes to. A file that is given twice is one job.
std::vector<JobRun> read_entries(const ManyJobs& all) {
  std::vector<JobRun> out;
  std::set<fs::path> given;
  std::map<fs::path, fs::path> folders;  // a report folder, and the job that writes to it
  for (const fs::path& file : all.which.jobs) {
    if (!given.insert(place_of(file)).second) continue;
    JobRun e;
    e.file = file;
    try {
      e.job = job::read_job(file);
      if (!all.output.empty()) e.job.output = all.output / file.stem();
      const fs::path folder = fs::absolute(e.job.output).lexically_normal();
      const auto [other, is_new] = folders.emplace(folder, file);
      if (!is_new)
        throw Error(Fault::input, file.string() + ": its report goes to " + e.job.output.string() + ", as that of " +
                                      other->second.string() + "; give one of them [job] output");
      if (all.recheck || all.record || !e.job.history.file.empty())
        e.alone.insert(fs::absolute(pipeline::history_file(e.job)).lexically_normal().string());
      e.need = memory_needed(e.job);
      e.readable = e.waiting = true;
    } catch (const Error& fault) {
      e.code = fault.fault == Fault::measurement ? 2 : 1, e.complaint = fault.what();
    }
    out.push_back(std::move(e));
  }
  return out;
}

/// They write to the same history or folder.
bool share(const JobRun& a, const JobRun& b) {
  return std::any_of(a.alone.begin(), a.alone.end(), [&](const std::string& s) { return b.alone.count(s) > 0; });
}

int code_of(const Inspection& r, const std::string& fail_on) {
  return r.doubt ? 2 : exit_code(r.verdict.overall, fail_on);
}

/// What a re-check of `other` stores, one of `e` has to count.
bool comes_before(const JobRun& other, const JobRun& e) {
  return share(other, e) && history::is_later(e.job, other.job);
}

/// Leaves it out if it is finished.
bool left_out(JobRun& e, const ManyJobs& all) {
  if (!(e.result = finished_result(e.job, all))) return false;
  e.waiting = false, e.unchanged = true, e.code = code_of(*e.result, all.fail_on);
  if (e.result->doubt) e.complaint = say(e.result->verdict.headline, {e.job.units});
  return true;
}

void leave_out_finished(std::vector<JobRun>& entries, const ManyJobs& all) {
  parallel_for(
      entries.size(),
      [&](std::size_t i) {
        if (entries[i].waiting) left_out(entries[i], all);
      },
      1);
  if (!all.recheck) return;
  const auto runs_before = [&](const JobRun& e) {
    return std::any_of(entries.begin(), entries.end(),
                       [&](const JobRun& other) { return other.waiting && comes_before(other, e); });
  };
  for (JobRun& e : entries) e.waiting = e.waiting || (e.unchanged && runs_before(e));
  for (JobRun& e : entries)
    if (e.waiting && e.unchanged) e.kept = true, e.unchanged = false, e.result.reset(), e.code = 0, e.complaint.clear();
}

std::vector<std::string> command_of(const JobRun& e, const ManyJobs& all) {
  std::vector<std::string> out{all.recheck ? "recheck" : "inspect", "--quiet", "--output", e.job.output.string()};
  if (!all.recheck && all.record) out.push_back("--record");
  if (!all.fail_on.empty()) out.insert(out.end(), {"--fail-on", all.fail_on});
  if (!all.against.empty()) out.insert(out.end(), {"--against", all.against});
  out.insert(out.end(), {"--", e.file.string()});
  return out;
}

/// Starts jobs as long as cores, memory and what they write to are free, and waits for them.
class Floor {
 public:
  Floor(std::vector<JobRun>& entries, const ManyJobs& all) : entries_(entries), all_(all) {
    const int waiting =
        static_cast<int>(std::count_if(entries.begin(), entries.end(), [](const JobRun& e) { return e.waiting; }));
    const int cores = thread_count();
    at_once_ = std::max(1, std::min(waiting, all.which.at_once > 0 ? all.which.at_once : cores));
    threads_ = std::max(1, cores / at_once_);
    memory_ = kPartOfMemory * memory_free();
  }

  void run() {
    hold_signals();
    for (bool stop = false;;) {
      while (!stop && start_next()) continue;
      show();
      if (running_.empty()) break;
      if (const Ended e = wait_for_child(); e.pid >= 0) {
        ended(e);
      } else {
        stop = true;
        for (const Running& r : running_) r.child.interrupt();
      }
    }
    for (JobRun& e : entries_)
      if (e.waiting) e.waiting = false, e.code = 130, e.complaint = "not begun: stopped at the user's request";
    clear_progress();
  }

 private:
  struct Running {
    std::size_t entry;
    Child child;
    Clock::time_point begun;
  };

  bool may_start(std::size_t i) const {
    const JobRun& e = entries_[i];
    if (running_.empty()) return true;  // what is too large for the memory is tried by itself
    if (static_cast<int>(running_.size()) >= at_once_) return false;
    double used = e.need;
    for (const Running& r : running_) used += entries_[r.entry].need;
    return used <= memory_;
  }
  bool in_use(const JobRun& e) const {
    return std::any_of(running_.begin(), running_.end(), [&](const Running& r) { return share(e, entries_[r.entry]); });
  }
  /// One that was refused, or is in doubt, has stored nothing.
  bool stored_before(const JobRun& e) const {
    return std::any_of(entries_.begin(), entries_.end(), [&](const JobRun& other) {
      return !other.waiting && !other.unchanged && (other.code == 0 || other.code == 3) && comes_before(other, e);
    });
  }
  /// Jobs of one history go in the order given: the first is the baseline of the others.
  bool start_next() {
    std::set<std::string> earlier;
    for (std::size_t i = 0; i < entries_.size(); ++i) {
      JobRun& e = entries_[i];
      if (!e.waiting) continue;
      const bool free = !in_use(e) && std::none_of(e.alone.begin(), e.alone.end(),
                                                   [&](const std::string& s) { return earlier.count(s) > 0; });
      if (free && e.kept && !stored_before(e) && left_out(e, all_)) continue;
      earlier.insert(e.alone.begin(), e.alone.end());
      if (!free) continue;
      if (!may_start(i)) return false;
      e.waiting = false;
      running_.push_back({i, Child(command_of(e, all_), threads_), Clock::now()});
      return true;
    }
    return false;
  }
  void ended(const Ended& done) {
    const auto run =
        std::find_if(running_.begin(), running_.end(), [&](const Running& r) { return r.child.pid() == done.pid; });
    if (run == running_.end()) return;
    JobRun& e = entries_[run->entry];
    e.code = done.code, e.peak = done.peak, e.complaint = run->child.complaint();
    e.seconds = std::chrono::duration<double>(Clock::now() - run->begun).count();
    if (e.code == 128 + SIGKILL)
      e.complaint = "killed, most often for lack of memory; try --at-once 1";
    else if (e.code > 128 && e.code != 130)
      e.complaint = "ended by signal " + std::to_string(e.code - 128) + (e.complaint.empty() ? "" : ": " + e.complaint);
    else if (e.code > 3 && e.code != 130)
      e.complaint = "not started (code " + std::to_string(e.code) + "); is the program still where it was?";
    if (e.code == 0 || e.code == 2 || e.code == 3) {
      try {
        e.result = report::result_head(e.job.output);
      } catch (const Error& fault) {
        if (e.code != 2) e.code = 1, e.complaint = fault.what();
      }
    }
    // By moving the others: a child is no value.
    std::vector<Running> others;
    for (Running& r : running_)
      if (r.child.pid() != done.pid) others.push_back({r.entry, std::move(r.child), r.begun});
    running_.swap(others);
  }
  void show() const {
    if (all_.quiet || !::isatty(STDERR_FILENO)) return;
    const auto left = std::count_if(entries_.begin(), entries_.end(), [](const JobRun& e) { return e.waiting; });
    std::string names;
    for (const Running& r : running_) names += (names.empty() ? "" : ", ") + entries_[r.entry].file.stem().string();
    std::cerr << "\r\033[K" << left << " waiting; running: " << names << std::flush;
  }

  std::vector<JobRun>& entries_;
  const ManyJobs& all_;
  int at_once_ = 1, threads_ = 1;
  double memory_ = 0;
  std::vector<Running> running_;
};

const char* state_of(const JobRun& e, bool recheck) {
  if (e.unchanged) return "unchanged";
  if (!e.result) return e.code == 130 ? "stopped" : "failed";
  return recheck ? "re-checked" : "inspected";
}

void print_lines(const std::vector<JobRun>& entries, const ManyJobs& all) {
  for (const JobRun& e : entries) {
    nlohmann::ordered_json j{{"job", e.file.string()}, {"state", state_of(e, all.recheck)}, {"exit_code", e.code}};
    if (e.result) {
      const Inspection& r = *e.result;
      j["tool"] = r.job.tool, j["name"] = r.job.name, j["date"] = r.job.date;
      j["verdict"] = to_string(r.doubt ? Conformity::not_judged : r.verdict.overall);
      const bool told = !r.doubt;
      j["out_of_tolerance_area_mm2"] = told ? nlohmann::ordered_json(r.outcome.now.out_area) : nullptr;
      j["trapped_air_probability"] =
          told && r.outcome.now.air.draws > 0 ? nlohmann::ordered_json(r.outcome.now.air.p) : nullptr;
      j["report"] = (e.job.output / "report.html").string();
    }
    if (!e.complaint.empty()) j["says"] = e.complaint;
    if (e.seconds > 0) j["seconds"] = std::round(10 * e.seconds) / 10, j["peak_MB"] = std::round(e.peak / 1e6);
    std::cout << j.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << "\n";
  }
}

std::string padded(std::string s, std::size_t width) {
  s.append(width - std::min(width, letters_in(s)), ' ');
  return s;
}

void print_table(const std::vector<JobRun>& entries, const ManyJobs& all) {
  std::size_t width = 3;
  for (const JobRun& e : entries)
    width = std::max(width, std::min<std::size_t>(40, letters_in(e.file.stem().string())));
  std::map<std::string, int> states;
  std::cout << padded("job", width) << "  state       verdict         out of tolerance  trapped air   time  memory\n";
  for (const JobRun& e : entries) {
    ++states[state_of(e, all.recheck)];
    std::cout << padded(e.file.stem().string(), width) << "  " << padded(state_of(e, all.recheck), 10) << "  ";
    if (e.result) {
      const Inspection& r = *e.result;
      const Conformity c = r.doubt ? Conformity::not_judged : r.verdict.overall;
      const auto& air = r.outcome.now.air;
      std::cout << padded(to_string(c), 14) << "  "
                << padded(r.doubt ? "–" : say(arg::area(r.outcome.now.out_area), {r.job.units}), 16) << "  "
                << padded(r.doubt || air.draws == 0 ? "–" : say(arg::probability(air.p)), 11);
      if (e.seconds > 0) std::cout << words("  %4.0f s  %4.0f MB", e.seconds, e.peak / 1e6);
    }
    std::cout << "\n";
  }
  std::cout << "\n" << entries.size() << (entries.size() == 1 ? " job" : " jobs");
  for (const auto& [state, n] : states)
    std::cout << (state == states.begin()->first ? ": " : ", ") << n << " " << state;
  std::cout << "\n";
  for (const JobRun& e : entries)
    if (!e.complaint.empty())
      std::cout << (e.result ? "In doubt    " : "Not done    ") << e.file.string() << ": " << e.complaint << "\n";
}

}  // namespace

bool many_asked(const ManyArguments& many) { return many.jobs.size() > 1 || many.at_once > 0 || many.again; }

int run_many(const ManyJobs& all) {
  std::vector<JobRun> entries = read_entries(all);
  if (!all.which.again) leave_out_finished(entries, all);
  Floor(entries, all).run();
  if (all.json)
    print_lines(entries, all);
  else if (!all.quiet)
    print_table(entries, all);
  else
    for (const JobRun& e : entries)
      if (!e.complaint.empty()) std::cerr << "gapfront: " << e.file.string() << ": " << e.complaint << "\n";
  std::cout.flush();
  int worst = 0;
  for (const JobRun& e : entries)
    if (severity(e.code) > severity(worst)) worst = e.code;
  return worst > 3 && worst != 130 ? 1 : worst;
}

}  // namespace gapfront::cli
