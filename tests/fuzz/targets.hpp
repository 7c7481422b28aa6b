// What is fuzzed: every reader of files, and the pages made from them. One list for the fuzzing programs and the
// replay.
#pragma once
#include <string>
#include <string_view>

namespace fuzz {

/// What became of the bytes: read, or refused by gapfront::Error in one line (`why`). Anything else is a fault, and
/// leaves as another exception, a signal, or a report of a sanitizer.
struct Outcome {
  bool read = true;
  std::string why;
};

Outcome ply(std::string_view);
Outcome pcd(std::string_view);
Outcome stl(std::string_view);
Outcome obj(std::string_view);
Outcome text(std::string_view);
Outcome e57(std::string_view);
Outcome mesh_stl(std::string_view);
Outcome mesh_obj(std::string_view);
Outcome painted(std::string_view);
Outcome places(std::string_view);
Outcome job(std::string_view);
Outcome history(std::string_view);
Outcome page(std::string_view);

struct Target {
  const char* name;  ///< its corpus is tests/fuzz/corpus/NAME
  Outcome (*run)(std::string_view bytes);
};

}  // namespace fuzz
