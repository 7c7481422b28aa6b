// One function per command of the program; each returns the exit code or throws Error.
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "gapfront/progress.hpp"
#include "gapfront/report.hpp"

namespace gapfront {
struct Inspection;
struct Recorded;
struct Survey;
}  // namespace gapfront

namespace gapfront::cli {

struct Manual;

/// What inspect and recheck take to do many jobs; see many_jobs.hpp.
struct ManyArguments {
  std::vector<std::filesystem::path> jobs;
  int at_once = 0;     ///< 0: as many as cores and memory allow
  bool again = false;  ///< also those that are finished
};

struct InspectArguments {
  ManyArguments many;
  std::filesystem::path output, expects;
  bool json = false, quiet = false, record = false, check = false;
  std::string fail_on;  ///< "", "undecided" or "nonconforming"
};
int run_inspect(const InspectArguments&);
/// With --fail-on: 3 where the verdict is that bad.
int exit_code(Conformity overall, const std::string& fail_on);

struct LookArguments {
  std::vector<std::filesystem::path> files;
  std::string unit;
  bool json = false;
};
int run_look(const LookArguments&);

struct InstrumentArguments {
  std::filesystem::path file;
  std::string unit;
  bool json = false;
};
/// Prints the [instrument] section that a check measurement of the scanner makes.
int run_instrument(const InstrumentArguments&);

/// What two scans tell together, in lines of the terminal: balls, how they close, seal line, land.
void print_pair(const Survey&, std::ostream&);

struct NewArguments {
  std::filesystem::path lower, upper, output, edit;
  std::string language;  ///< of the setup page; empty: the job's
  bool force = false;
};
int run_new(const NewArguments&);

struct ReportArguments {
  std::filesystem::path result, output;
  std::string language;  ///< empty: as the job asks
  bool pdf = false, film = false;
};
int run_report(const ReportArguments&);
/// Prints the list of characteristics of a result as CSV, or as JSON.
int run_characteristics(const std::filesystem::path& result, bool json);
/// Prints the fields of the sheet, as they stand in result.json, sheet.ply, sheet.pcd and sheet.vtu.
int run_fields();
struct ReinforcementsArguments {
  bool json = false;
  std::filesystem::path sheet;  ///< page to write instead
  std::string language;         ///< of the page
};
/// Prints the built-in reinforcements, each number with its uncertainty and where it is from; or writes the sheet on
/// which one's own are measured.
int run_reinforcements(const ReinforcementsArguments&);
/// Prints the JSON Schema of a file: "result", "recheck", "diagnosis", "shot" or "job".
int run_schema(const std::string& what);

struct HistoryArguments {
  std::string tool;          ///< the file, or the tool's name
  std::optional<long> show;  ///< number of an inspection
  bool csv = false, check = false;
  std::string remove;  ///< id or date of an inspection; empty: none
};
int run_history(const HistoryArguments&);

struct RecheckArguments {
  ManyArguments many;
  std::filesystem::path output;
  std::string against;
  bool new_baseline = false, json = false, quiet = false;
};
int run_recheck(const RecheckArguments&);

struct FleetArguments {
  std::filesystem::path folder, output;
  std::string language, day;  ///< empty: as the jobs ask; today
};
int run_fleet(const FleetArguments&);

struct StudyArguments {
  std::filesystem::path file, output;
  std::string language;  ///< of the page; empty: the job's
  bool quiet = false, again = false;
};
int run_study(const StudyArguments&);

struct DiagnoseArguments {
  std::filesystem::path job, output;
  std::vector<std::string> spots, sizes, seen;
  std::string cured_below;
  bool json = false, quiet = false;
};
int run_diagnose(const DiagnoseArguments&);

struct ShotArguments {
  std::filesystem::path job, log, output;
  std::vector<std::string> vents;
  std::string viscosity;
  bool json = false, quiet = false, record = false;
};
int run_shot(const ShotArguments&);

struct RecordArguments {
  std::filesystem::path folder, key;  ///< key: private, PEM
};
/// Signs what a report folder holds: record.json, record.sig and record.pub.
int run_record(const RecordArguments&);

struct VerifyArguments {
  std::filesystem::path folder, key, job;  ///< key: public, PEM; empty: the folder's. job: to compute again
};
int run_verify(const VerifyArguments&);

/// Prints the page of a topic or a command; without one, of the program.
int run_help(const Manual&, const std::string& topic);
/// Writes man pages and completions below folder/share.
int run_manual(const Manual&, const std::filesystem::path& folder);
/// Of the program: version, how it was built, libraries.
std::string version_text();

/// Throws Error{input} where the inspection could not be stored; its report is written by then.
void refuse_unstored(const Recorded&);
/// A line that names its work order in `folder`, where there is one.
void print_work_order(const Inspection&, const std::filesystem::path& folder, std::ostream&);
/// The files of its report, and those `besides`, into the job's folder; stale_rechecks() go, see many_jobs.hpp.
void write_report_of(const Inspection&, const Progress&, const FileSet& besides = {},
                     const std::string& rows_sha256 = "", bool baseline = false);
/// Ends a re-check or a diagnosis of a measurement in doubt: an earlier `page` (html and json) in the report folder
/// goes, and the doubt is thrown as Error{measurement}.
[[noreturn]] void end_in_doubt(const Inspection&, const std::string& page);

/// A single line on the terminal, kept up to date; nothing when stderr is a pipe or `quiet`. Stops the work
/// after SIGINT.
Progress terminal_progress(bool quiet);
/// Wipes the line, so that what follows starts clean.
void clear_progress();
/// From here on Ctrl-C is not heard: files are being written.
void end_interrupts();

}  // namespace gapfront::cli
