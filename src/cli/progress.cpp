#include <unistd.h>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <mutex>
#include <string>
#include <string_view>

#include "cli/commands.hpp"

namespace gapfront::cli {
namespace {

volatile std::sig_atomic_t interrupted = 0;

// A stage is asked to stop, which it does between two steps of its own. Should a step be long, the program ends here:
// the history's transactions are whole or nothing, and while a report is written no Ctrl-C is heard.
constexpr unsigned kHeardWithin = 1;  // s

void end_at_once(int) {
  constexpr char text[] = "\r\033[Kgapfront: stopped at the user's request\n";
  constexpr std::size_t kClear = 4;  // of them clear the line of the progress
  const std::size_t from = ::isatty(STDERR_FILENO) ? 0 : kClear;
  if (::write(STDERR_FILENO, text + from, sizeof text - 1 - from) < 0) ::_exit(130);
  ::_exit(130);
}

void on_interrupt(int) {
  interrupted = 1;
  std::signal(SIGINT, end_at_once);  // a second Ctrl-C
  std::signal(SIGALRM, end_at_once);
  ::alarm(kHeardWithin);
}

/// The steps of an inspection and how long they take, measured on the demo jobs; a step of another name has no share.
struct Step {
  std::string_view name;
  double share;
};
constexpr Step kSteps[] = {
    {"clean lower scan", 1}, {"clean upper scan", 1}, {"align", 2},     {"sheet", 10},      {"gap", 2},
    {"pockets", 3},          {"schedule", 2},         {"ensemble", 14}, {"corrections", 65}};

/// How much of the whole is done, from 0 to 1; negative for a step without a share.
double done_of_all(std::string_view stage, double fraction) {
  double before = 0, all = 0, share = -1, at = 0;
  for (const Step& s : kSteps) {
    if (s.name == stage) share = s.share, at = before;
    before += s.share, all += s.share;
  }
  return share < 0 ? -1 : (at + share * fraction) / all;
}

/// " · 34 % of all, about 50 s left": of an inspection, from a tenth on.
std::string whole_words(double done, double seconds) {
  if (done < 0) return "";
  std::string out = " · " + std::to_string(static_cast<int>(100 * done)) + " % of all";
  if (done < 0.1) return out;
  const long left = 10 * std::lround(seconds * (1 - done) / done / 10);
  return out + (left > 90  ? ", about " + std::to_string((left + 30) / 60) + " min left"
                : left > 0 ? ", about " + std::to_string(left) + " s left"
                           : "");
}

bool on_terminal() {
  static const bool yes = isatty(STDERR_FILENO);
  return yes;
}

}  // namespace

Progress terminal_progress(bool quiet) {
  std::signal(SIGINT, on_interrupt);
  const auto start = std::chrono::steady_clock::now();
  return [quiet, start, shown = std::string(), done = 0.0](std::string_view stage, double fraction) mutable {
    static std::mutex one_at_a_time;
    std::lock_guard lock(one_at_a_time);
    if (interrupted) return false;
    if (quiet || !on_terminal()) return true;
    std::string line = std::string(stage) + " " + std::to_string(static_cast<int>(100 * fraction)) + " %";
    done = std::max(done, done_of_all(stage, fraction));
    line += whole_words(done, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
    if (line != shown) {
      std::fprintf(stderr, "\r\033[K%s", line.c_str());
      std::fflush(stderr);
      shown = std::move(line);
    }
    return true;
  };
}

void end_interrupts() {
  std::signal(SIGINT, SIG_IGN);
  std::signal(SIGALRM, SIG_IGN);
}

void clear_progress() {
  if (on_terminal()) std::fprintf(stderr, "\r\033[K");
}

}  // namespace gapfront::cli
