// The results of a re-check, a diagnosis and a shot as files: JSON, and a page that is made from it and nothing else.
#pragma once
#include <filesystem>
#include <string>
#include <vector>
#include "gapfront/diagnose.hpp"
#include "gapfront/inspection.hpp"
#include "gapfront/recheck.hpp"
#include "gapfront/report.hpp"
#include "gapfront/shot.hpp"

namespace gapfront {

namespace report {
/// `outcome`: of the inspection that was re-checked, outcome_says().
std::string recheck_json(const Job&, const Recheck&, const Text& outcome = {});
/// The text of diagnosis.json.
std::string diagnosis_json(const Inspection&, const Diagnosis&);
/// The text of shot.json.
std::string shot_json(const Measured&, const ShotLog&, const ShotFound&);
}  // namespace report

/// A page, and the files that go beside it.
struct Page {
  std::string html;
  FileSet besides;  ///< of result.json: work_files()
};

namespace report {
/// The page of result.json, recheck.json, diagnosis.json or shot.json, in `language` (empty: the one that the job asked
/// for). Throws Error{Fault::input} for a text that is none of them.
Page page_of(const std::string& json, const std::string& language = "");
/// STEM.json and STEM.html, made from it, for write_set().
FileSet page_files(const std::string& json, const std::string& stem);

/// The names in `folder` that a report's files have, see write_report(). None without the folder.
std::vector<std::string> report_names(const std::filesystem::path& folder);
/// Those of these names that lie in `folder` and that no run of the program has put there: its list of checksums does
/// not know them. A folder of a program that wrote no such list is known by its result.json.
std::vector<std::string> foreign_files(const std::filesystem::path& folder, const std::vector<std::string>& names);
/// The names that the folder's list of checksums has and that are not there.
std::vector<std::string> missing_files(const std::filesystem::path& folder);
/// Throws Error{Fault::input} that names the first of foreign_files(): it would be overwritten or taken away.
void refuse_foreign(const std::filesystem::path& folder, const std::vector<std::string>& names);
}  // namespace report

}  // namespace gapfront
