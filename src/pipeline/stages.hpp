// The stages of a step: each timed, each with its slice of the progress.
#pragma once
#include <chrono>
#include <utility>

#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// stage("name", f) runs f(progress) and notes how long it took, also when it throws.
class Stages {
 public:
  Stages(const Progress& progress, std::vector<StageTime>& times) : progress_(progress), times_(times) {}

  template <class F>
  auto operator()(const char* name, F&& f) {
    report_progress(progress_, name, 0);
    const auto start = std::chrono::steady_clock::now();
    // The stage calls its parts by its own names; people read the one name given here.
    const Progress inner = [this, name](std::string_view, double fraction) {
      return !progress_ || progress_(name, fraction);
    };
    struct Note {
      std::vector<StageTime>& times;
      const char* name;
      std::chrono::steady_clock::time_point start;
      ~Note() {
        times.push_back({name, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count()});
      }
    } note{times_, name, start};
    return f(inner);
  }

 private:
  const Progress& progress_;
  std::vector<StageTime>& times_;
};

}  // namespace gapfront::pipeline
