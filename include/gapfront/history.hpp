// The history of one tool: one SQLite file, one row per inspection, the fields on the baseline's sheet.
#pragma once
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <tuple>
#include <vector>
#include "gapfront/message.hpp"
#include "gapfront/sheet.hpp"

namespace gapfront {

/// A target as one inspection found it, tool frame, mm.
struct DatumPlace {
  std::string name;
  Vec3 lower = Vec3::Zero(), upper = Vec3::Zero();  ///< seen in the lower half, and in the closed upper half
  double u_lower = 0, u_upper = 0;                  ///< standard uncertainty per coordinate
};

/// Nominal and tolerance of an inspection, as far as the history keeps them.
struct Limits {
  double nominal = 0, minus = 0, plus = 0;  ///< mm, of the face outside of all zones
  std::string sha256;                       ///< of these and of the zones; empty: kept by an older version, not known
};

/// One inspection as the history keeps it. The fields have one value per node of the common sheet.
struct Record {
  long id = 0, sheet = 0;  ///< rows in the file; 0: not stored yet
  std::string date;        ///< YYYY-MM-DD
  double cycles = 0;       ///< parts made until then
  std::string name, note, instrument, verdict, version;
  std::string job_sha256, lower_sha256, upper_sha256;
  Limits limits;
  std::vector<DatumPlace> datums;
  GapMap gap;
  std::vector<double> arrival;                           ///< s; +infinity where resin does not come
  double fill_time = 0, dry_area = 0, last_to_vent = 0;  ///< s, mm², mm
};

/// One shot as the history keeps it.
struct ShotRecord {
  long id = 0;
  std::string date, file, log_sha256, job_sha256, version;
  double cycles = 0;
  std::string verdict, cause;
  double resists = 0;                ///< of the half filled cavity, Pa·s/mm³
  double volume = 0, fill_time = 0;  ///< mm³, s
};

/// A history file. Several programs may use it at once: each change is one transaction (WAL, synchronous FULL, waits
/// up to ten seconds for another writer), so a program that is killed leaves the last good state. Errors are
/// Error{Fault::input} naming the file.
class History {
 public:
  /// How the file is opened.
  enum class Access { read, write };  ///< write makes the file when it is not there, and brings an older one up to date
  /// Opens the file.
  History(const std::filesystem::path&, Access);
  ~History();
  /// Moves.
  History(History&&) noexcept;

  std::string tool() const;  ///< empty while nothing is stored
  int version() const;       ///< of the file's layout
  /// The sheet of the newest baseline, on which re-inspections are measured; nothing while nothing is stored.
  std::optional<Sheet> sheet() const;
  long sheet_id() const;  ///< 0: none
  /// Inspections on the newest baseline's sheet with their fields, by cycles, then date; the first is the baseline.
  std::vector<Record> records() const;
  /// All inspections of all baselines, without fields, in the order in which they were stored.
  std::vector<Record> list() const;

  /// A new baseline: the first inspection of the tool, or the first after work on it. `expected` is the sheet_id() the
  /// caller has seen; when another program has stored a baseline since, this throws instead of starting a second one.
  long begin(const std::string& tool, const Sheet&, const Record&, long expected);
  /// A re-inspection on the sheet `record.sheet`. The same scans with the same job again replace what they stored.
  long add(const Record&);

  /// Takes an inspection out for good. Error{Fault::input} where there is none, or where it is a baseline that others
  /// rest on; a baseline that stands alone goes with its sheet.
  void remove(long id);

  /// Shots of the tool, as they were added.
  std::vector<ShotRecord> shots() const;
  /// The same log again replaces what it stored.
  long add(const ShotRecord&);

  /// What is wrong with the file: SQLite's own check, then every stored field against its SHA-256. Empty: sound.
  std::vector<std::string> check() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

namespace history {
/// Of records, jobs: by cycles, then date, as the history is in order.
template <class A, class B>
bool is_later(const A& a, const B& b) {
  return std::tie(a.cycles, a.date) > std::tie(b.cycles, b.date);
}
/// Of records, results: the same scans with the same job.
template <class A, class B>
bool same_inspection(const A& a, const B& b) {
  return a.job_sha256 == b.job_sha256 && a.lower_sha256 == b.lower_sha256 && a.upper_sha256 == b.upper_sha256;
}
/// One row per inspection: identity, verdict, gap statistics and front, with a header line. RFC 4180.
std::string history_csv(const std::vector<Record>&, const Sheet&);
/// SHA-256 of what identifies the baseline of `last` and the inspections on it until `last`, in whatever order they
/// are: those that a re-check of `last` counts, and the same where all are the same.
std::string rows_sha256(const std::vector<Record>&, const Record& last);
/// What makes an entry doubtful among the others of its baseline: scans that were stored before under another date,
/// cycles that fall while the dates rise, a date before the baseline's. `records` may hold the entry itself.
Messages doubts_of(const std::vector<Record>& records, const Record& entry);
}  // namespace history

}  // namespace gapfront
