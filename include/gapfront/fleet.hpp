// Many tools at a glance: what is kept of each in histories and report folders, the one most at risk first.
#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/inspection.hpp"
#include "gapfront/recheck.hpp"
#include "gapfront/text.hpp"

namespace gapfront {

/// Why a tool asks for attention, the most pressing first.
enum class Attention {
  worn_out,       ///< a wear has reached its limit
  seat,           ///< the upper half's seat has moved, and is to be put right first
  opens,          ///< the mold cannot be closed on its glass, or opens while it fills
  doubt,          ///< the measurement is in doubt: nothing is known of the gap
  nonconforming,  ///< provably out of tolerance
  dry_spots,      ///< trapped air is provably more frequent than one filling in twenty
  vanished,       ///< a change that was proven is gone
  target,         ///< a target stands elsewhere among the others than it did
  unread,         ///< a file of it could not be read
  future,         ///< an inspection of it is dated in the future
  namesake,       ///< another tool has its name, as it seems
  due,            ///< the next re-check is due
  undecided,      ///< undecided, or not measured
  none
};
/// "worn-out"…, for files and for the page's classes.
const char* to_string(Attention);

/// What is known of one tool. What was not found is NaN, empty, or not there.
struct FleetTool {
  std::string tool, name, date;  ///< of the newest inspection; a job without [job] tool goes by its own name
  double cycles = 0;
  Attention attention = Attention::none;  ///< the most pressing reason
  std::vector<Attention> also;            ///< the others that hold as well, the more pressing first
  bool overdue = false;                   ///< the date or the cycles of the next re-check have passed
  bool inspected_since = false;           ///< after its newest re-check, which is history by that
  bool unmeasured = false;                ///< what the newest scans do not show is enough for a wear to hide in
  Conformity verdict = Conformity::not_measured;
  bool provisional = false;  ///< nominal or tolerance is a guess that nobody has confirmed
  Chance air;                ///< that a filling traps air; draws 0: not known
  double out_area = 0;       ///< out of tolerance, mm²
  std::size_t kept = 0;      ///< inspections in its history
  /// The newest re-check, if the tool has neither been inspected since nor had a new baseline; without its sheet and
  /// fields.
  std::optional<Recheck> recheck;
  std::filesystem::path page;       ///< report.html of the newest inspection; empty: only the history is there
  std::filesystem::path read_from;  ///< its history, or the folder of its newest report
  bool namesake = false;            ///< another tool has its name, as it seems
  std::string future;               ///< the date of an inspection after the fleet's day; empty: none
  std::vector<std::filesystem::path> unread;  ///< files that could not be read and are its own by name or folder
};

/// All tools of a folder.
struct Fleet {
  std::string day;                ///< YYYY-MM-DD: what is due is due on this day
  Voice voice;                    ///< of the jobs, where all ask for the same; else English, mm
  bool invented = false;          ///< some of it is demo data
  std::vector<FleetTool> tools;   ///< by attention; then by chance of trapped air, cycles left, name
  std::vector<std::string> lost;  ///< a line for each file that could not be read
};

/// What recheck.json says before its maps.
struct RecheckHead {
  Job job;
  Recheck recheck;
};

/// Of the tool's re-check; none too where there was no re-check.
const Wear* first_to_end(const FleetTool&);

namespace report {
/// What a tool asks for, in words for people.
Message asks_for(Attention);
/// What is to be done about it on this tool. Not for `none`.
Message work_for(const FleetTool&, Attention);

/// What result.json of this folder says before its maps: job, hashes, outcome, doubt, overall verdict and headline;
/// nothing per node. It takes a millisecond where read_result() takes a hundred. Errors are read_result()'s.
Inspection result_head(const std::filesystem::path& folder);
/// The same of recheck.json, or of another re-check's file.
RecheckHead recheck_head(const std::filesystem::path& file);

/// Reads all histories, results and re-checks in a folder and below it. A file that cannot be read is named in `lost`.
/// Throws Error{Fault::input} where there is no such folder.
Fleet read_fleet(const std::filesystem::path& folder, const std::string& day);
/// The page, with links to the reports as seen from the folder `from`.
std::string fleet_html(const Fleet&, const std::filesystem::path& from);
/// A row per tool, lengths in mm, areas in mm².
std::string fleet_csv(const Fleet&, const std::filesystem::path& from);
}  // namespace report

}  // namespace gapfront
