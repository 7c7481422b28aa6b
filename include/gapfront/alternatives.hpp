// Ways to fill one mold, to be compared: a job with some of its settings replaced.
#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "gapfront/job.hpp"

namespace gapfront {

/// One way.
struct Alternative {
  std::vector<std::string> names;  ///< of what it replaces, one per group; "" where the job's own stands
  Job job;                         ///< with that replaced; its text is the job file's, and the changes below it
};
/// All that a study file asks for.
struct Alternatives {
  std::filesystem::path file;  ///< the study file
  Job job;                     ///< as it is, without a change
  std::vector<std::string> groups;
  std::vector<Alternative> all;
};

namespace job {
/// Reads a study file: the job it is about, and groups ([[vents]], [[stacks]]… with any names) of entries that replace
/// settings of its sections laminate, flow and closing. Every combination of the groups is an alternative, or, with
/// combine = "list", each entry by itself. Throws Error{Fault::input} naming file and entry.
Alternatives read_alternatives(const std::filesystem::path&);
}  // namespace job

}  // namespace gapfront
