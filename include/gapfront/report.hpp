// What people and programs read: report.html, result.json, corrections.csv, sheet.ply, sheet.pcd, sheet.vtu; and, where
// corrections are chosen, work-order.html with templates.pdf and template-*.svg.
#pragma once
#include <filesystem>
#include <string>
#include <utility>
#include <vector>
#include "gapfront/inspection.hpp"
#include "gapfront/text.hpp"

namespace gapfront {

struct Survey;
struct Alternatives;
struct Study;

/// Files that belong together: name and text.
using FileSet = std::vector<std::pair<std::string, std::string>>;

namespace report {
/// The report's page, in the job's language, as all pages here.
std::string report_html(const Inspection&);
/// The text of result.json; without times two runs of one job give the same.
std::string result_json(const Inspection&, bool with_times = true);
/// RFC 4180: a row for each correction, and for each station of shims.
std::string corrections_csv(const Inspection&);
/// Whether there is work to take to the mold: not with a doubt, or with a stack that work on the gap cannot help. A
/// layout that traps air has some: its ports.
bool has_work_order(const Inspection&);
/// The page that is taken to the mold.
std::string work_order_html(const Inspection&);
/// Both fronts on one time axis as an animated PNG: the nominal mold beside the mold as measured, or `after` the
/// corrections. Throws Error{Fault::input} for a result without fronts.
std::string film_png(const Inspection&, bool after);
/// The sheet with all fields; like the two below it may be binary.
std::string sheet_ply(const Inspection&);
/// The nodes alone, for PCL and its tools.
std::string sheet_pcd(const Inspection&);
/// The same for VTK and its tools.
std::string sheet_vtu(const Inspection&);

/// For whom the job's report is written.
Voice voice_of(const Job&);
/// What the inspection comes to: the same in terminal, report, work order, re-check, diagnosis and result.json.
Text outcome_says(const Inspection&);
/// The same in one line of English.
std::string outcome_line(const Inspection&);

/// What result.json holds, for the report to be made again: result_json() of it is the same text. Throws
/// Error{Fault::input} for a text that is no result or of another format version.
Inspection read_result(const std::string& json);

/// The page of a study, in the job's language: a table, small maps, and what no other alternative beats.
std::string study_html(const Alternatives&, const Study&);
/// What is computed of a study, to go on from.
std::string study_json(const Alternatives&, const Study&);
/// What study_json() wrote; empty for any other text, which is no error: everything is computed then.
Study read_study(const std::string& json);

/// The list of the sheet's fields as they stand in result.json and the sheet's files: name, tab, meaning; a line
/// each.
std::string field_list();

/// JSON Schemas (2020-12) of result.json, recheck.json, diagnosis.json and shot.json, and of the job file taken as
/// JSON.
std::string result_schema();
/// See result_schema().
std::string recheck_schema();
/// See result_schema().
std::string diagnosis_schema();
/// See result_schema().
std::string shot_schema();
/// See result_schema().
std::string job_schema();

/// The job whose setup page is made.
struct SetupJob {
  std::string text;      ///< as in the file
  std::string file;      ///< its name, under which the page saves it
  std::string language;  ///< of the page
  std::string photo;     ///< of the tool, as job::read_photo gives it; empty: none
};
/// The page on which a person sets up a job by pointing at its two scans: self-contained, and it writes the job file.
std::string setup_html(const Survey&, const SetupJob&);

/// The work order and the templates of the chosen corrections, as files beside the report: name and text. Made from
/// what result.json holds. Empty when nothing is chosen.
FileSet work_files(const Inspection&);

/// All files of a report. The page is made from what result.json holds, so that it can be made again, byte for byte.
FileSet report_files(const Inspection&);

/// Writes files into `folder`, which is made: each as a temporary file with fsync, all renamed only when all are
/// written, by one run at a time; `gone` are taken away. checksums.sha256 lists what was written (as sha256sum does),
/// so that a set which was cut off half-way is found out, see changed_files(). What such a run has left is swept.
/// Throws Error{Fault::input} when the folder cannot be written, and see refuse_foreign().
void write_set(const std::filesystem::path& folder, const FileSet&, const std::vector<std::string>& gone = {});
/// The files whose content is not what checksums.sha256 says: of another run, or edited. None without that list.
std::vector<std::string> changed_files(const std::filesystem::path& folder);
/// A report's files as a set. A template of an earlier run beside a work order that does not name it would be cut out
/// and used: such files are taken away, and those named `gone`.
void write_report(const FileSet&, const std::filesystem::path& folder, std::vector<std::string> gone = {});
/// One file, atomically.
void write_file(const std::filesystem::path&, const std::string& text);
}  // namespace report

}  // namespace gapfront
