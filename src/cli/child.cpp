// A job in a process of its own: what fails there, or takes the memory, leaves the others alone.
#include <fcntl.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

#include "cli/many_jobs.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cli {
namespace {

// A complaint is one line; more than this of it nobody reads.
constexpr std::size_t kLongest = 4096;

/// A file without a name, for what a child says.
int nameless_file() {
  const int fd = ::memfd_create("gapfront", MFD_CLOEXEC);
  if (fd < 0)
    throw Error(Fault::input, std::string("a job cannot be started (") + std::strerror(errno) +
                                  "); close other programs, and run again: what is finished is left out");
  return fd;
}

sigset_t signals_heard() {
  sigset_t out;
  ::sigemptyset(&out);
  for (const int s : {SIGINT, SIGTERM, SIGCHLD}) ::sigaddset(&out, s);
  return out;
}

}  // namespace

void hold_signals() {
  const sigset_t heard = signals_heard();
  ::sigprocmask(SIG_BLOCK, &heard, nullptr);
}

Child::Child(const std::vector<std::string>& arguments, int threads) : said_(nameless_file()) {
  std::vector<std::string> words{"gapfront"};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (auto& w : words) argv.push_back(w.data());
  argv.push_back(nullptr);
  const std::string share = std::to_string(threads);
  const pid_t parent = ::getpid();
  pid_ = ::fork();
  if (pid_ < 0) {
    ::close(said_);
    throw Error(Fault::input, std::string("a job cannot be started (") + std::strerror(errno) + "); try --at-once 1");
  }
  if (pid_ > 0) return;
  ::setpgid(0, 0);  // Ctrl-C is heard by the parent alone, which passes it on once
  ::prctl(PR_SET_PDEATHSIG, SIGTERM);
  if (::getppid() != parent) ::_exit(130);
  const sigset_t heard = signals_heard();
  ::sigprocmask(SIG_UNBLOCK, &heard, nullptr);
  ::setenv("GAPFRONT_THREADS", share.c_str(), 1);
  const int nothing = ::open("/dev/null", O_RDWR);
  ::dup2(nothing, STDIN_FILENO), ::dup2(nothing, STDOUT_FILENO), ::dup2(said_, STDERR_FILENO);
  ::execv("/proc/self/exe", argv.data());
  ::_exit(127);
}

Child::Child(Child&& other) noexcept : pid_(std::exchange(other.pid_, -1)), said_(std::exchange(other.said_, -1)) {}

Child::~Child() {
  if (said_ >= 0) ::close(said_);
}

void Child::interrupt() const {
  if (pid_ > 0) ::kill(pid_, SIGINT);
}

std::string Child::complaint() const {
  std::string text(kLongest, '\0');
  const ssize_t n = ::pread(said_, text.data(), text.size(), 0);
  text.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
  while (!text.empty() && text.back() == '\n') text.pop_back();
  if (const auto line = text.rfind('\n'); line != std::string::npos) text.erase(0, line + 1);
  constexpr std::string_view self = "gapfront: ";
  return text.starts_with(self) ? text.substr(self.size()) : text;
}

Ended wait_for_child() {
  const sigset_t heard = signals_heard();
  for (;;) {
    int status = 0;
    rusage used{};
    Ended out;
    out.pid = ::wait4(-1, &status, WNOHANG, &used);
    if (out.pid > 0) {
      out.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
      out.peak = 1024.0 * static_cast<double>(used.ru_maxrss);
      return out;
    }
    // Held back until here, none of them can come between the question above and this.
    if (const int s = ::sigwaitinfo(&heard, nullptr); s == SIGINT || s == SIGTERM) return {};
  }
}

}  // namespace gapfront::cli
