#include <unistd.h>
#include <csignal>
#include <cstdio>
#include <mutex>
#include <string>

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

bool on_terminal() {
  static const bool yes = isatty(STDERR_FILENO);
  return yes;
}

}  // namespace

Progress terminal_progress(bool quiet) {
  std::signal(SIGINT, on_interrupt);
  return [quiet, shown = std::string()](std::string_view stage, double fraction) mutable {
    static std::mutex one_at_a_time;
    std::lock_guard lock(one_at_a_time);
    if (interrupted) return false;
    if (quiet || !on_terminal()) return true;
    std::string line = std::string(stage) + " " + std::to_string(static_cast<int>(100 * fraction)) + " %";
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
