// What is found of a fleet's tools, before it is put in words.
#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "gapfront/fleet.hpp"
#include "gapfront/history.hpp"

namespace gapfront::report {

/// Everything found of one tool.
struct Found {
  struct Result {
    Inspection head;
    std::filesystem::path folder;
    std::filesystem::file_time_type written;
  };
  struct Check {
    RecheckHead head;
    std::filesystem::path folder;
  };
  std::vector<Result> results;
  std::vector<Check> rechecks;
  std::vector<Record> kept;
  std::filesystem::path history;              ///< that `kept` comes from; empty: none
  std::vector<std::filesystem::path> unread;  ///< files that are the tool's by their name or folder
  bool namesake = false;                      ///< another tool has its name, as it seems
};

/// What identifies an inspection, as the extra input of a result that is measured on a baseline names it.
std::string identity_of(const std::string& job_sha256, const std::string& lower_sha256,
                        const std::string& upper_sha256);
/// The identity of the baseline on whose sheet a result was measured; empty: by itself.
std::string baseline_of(const Inspection&);

/// The inspection whose prediction the result in this folder has tested, see Inspection::expects. It reads ten times as
/// much of the file as result_head().
Message tested_prediction(const std::filesystem::path& folder);

/// All that was found under one name, a piece for each file, as the tools that it may be of. Histories that share no
/// inspection are of two tools; so is what cannot be the course of one. Where several could have it, what lies nearest
/// counts, or it stands by itself: nothing is hidden behind another tool.
std::vector<Found> tools_of_name(std::vector<Found> pieces);

/// A file that could not be read goes to the tools that its name or its folder tells.
void tell_unread(std::vector<std::pair<std::string, Found>>& tools, const std::vector<std::filesystem::path>& unread);

}  // namespace gapfront::report
