#include <unistd.h>
#include <csignal>
#include <cstdio>
#include <mutex>
#include <string>

#include "cli/commands.hpp"

namespace gapfront::cli {
namespace {

volatile std::sig_atomic_t interrupted = 0;

void on_interrupt(int) {
  interrupted = 1;
  std::signal(SIGINT, SIG_DFL);  // a second Ctrl-C ends at once, should a stage be slow to listen
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

void clear_progress() {
  if (on_terminal()) std::fprintf(stderr, "\r\033[K");
}

}  // namespace gapfront::cli
