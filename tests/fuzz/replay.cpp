// The corpus again: seeds (good-*), files that once crashed or cost gigabytes (bad-*), and what fuzzing found (others).
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "fuzz/page_seeds.hpp"
#include "fuzz/targets.hpp"
#include "test_paths.hpp"

namespace {

// Sanitizers take address space and memory of their own.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr bool kMeasured = false;
#else
constexpr bool kMeasured = true;
#endif

constexpr fuzz::Target kTargets[] = {
    {"ply", fuzz::ply},       {"pcd", fuzz::pcd},           {"stl", fuzz::stl},           {"obj", fuzz::obj},
    {"text", fuzz::text},     {"mesh_stl", fuzz::mesh_stl}, {"mesh_obj", fuzz::mesh_obj}, {"painted", fuzz::painted},
    {"places", fuzz::places}, {"e57", fuzz::e57},           {"job", fuzz::job},           {"history", fuzz::history},
    {"page", fuzz::page}};

enum Ending { was_read, was_refused, other_exception };

struct Ended {
  bool by_itself = false;
  int how = -1;            ///< Ending, or the signal
  double peak_memory = 0;  ///< bytes
};

/// In a process of its own, which a crash ends and limits of memory and time bound.
Ended in_a_child(const fuzz::Target& target, const std::string& bytes) {
  std::fflush(nullptr);
  const pid_t child = fork();
  if (child == 0) {
    const rlimit seconds{20, 20}, address_space{rlim_t(4) << 30, rlim_t(4) << 30};
    setrlimit(RLIMIT_CPU, &seconds);
    if (kMeasured) setrlimit(RLIMIT_AS, &address_space);
    alarm(60);  // what waits takes no CPU time
    try {
      _exit(target.run(bytes).read ? was_read : was_refused);
    } catch (const std::exception& e) {
      std::fprintf(stderr, "%s: %s\n", target.name, e.what());
    } catch (...) {
    }
    _exit(other_exception);
  }
  int status = 0;
  rusage used{};
  wait4(child, &status, 0, &used);
  return {WIFEXITED(status), WIFEXITED(status) ? WEXITSTATUS(status) : WTERMSIG(status), 1024.0 * used.ru_maxrss};
}

/// What the name promises: good-* is read, bad-* is refused; a file that fuzzing found is one or the other.
void replay_one(const fuzz::Target& target, const std::string& name, const std::string& bytes) {
  INFO(target.name << "/" << name);
  const Ended e = in_a_child(target, bytes);
  CHECK(e.by_itself);
  if (name.starts_with("good-"))
    CHECK(e.how == was_read);
  else if (name.starts_with("bad-"))
    CHECK(e.how == was_refused);
  else
    CHECK((e.how == was_read || e.how == was_refused));
  if (kMeasured) CHECK(e.peak_memory <= 32.0 * double(bytes.size()) + 200e6);
}

}  // namespace

TEST_CASE("A file that once crashed or cost gigabytes is refused in one line, or read") {
  for (const fuzz::Target& target : kTargets) {
    int files = 0;
    const auto folder = std::filesystem::path(SOURCE_DIR) / "tests/fuzz/corpus" / target.name;
    if (std::filesystem::exists(folder))
      for (const auto& entry : std::filesystem::directory_iterator(folder)) {
        std::ifstream in(entry.path(), std::ios::binary);
        replay_one(target, entry.path().filename().string(), {std::istreambuf_iterator<char>(in), {}});
        ++files;
      }
    if (target.run == fuzz::page)
      for (const auto& [name, text] : fuzz::page_seeds()) replay_one(target, name, text), ++files;
    INFO(target.name);
    CHECK(files >= 2);
  }
}
