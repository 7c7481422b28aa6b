// Inspections that are kept in their tool's history, and compared with it.
#include <algorithm>

#include "core/sha256.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/places.hpp"

namespace gapfront::pipeline {
namespace {

constexpr const char* kBaselineUse = "proof.history-baseline";

/// What the history asks of an inspection that is to be compared with it.
struct Baseline {
  std::optional<Sheet> sheet;
  long seen = 0;  ///< of the newest baseline; 0: nothing is stored yet
  std::optional<Record> first;
  Job framed;  ///< the job in the baseline's frame
  ExtraInput input;
  /// The job measured on that sheet and in that frame; with nothing stored, by itself.
  Inspection inspected(const Job& job, const Progress& progress) const {
    Inspection out = inspect(framed, progress, sheet ? &*sheet : nullptr, first ? &*first : nullptr);
    out.job.align = job.align;  // the report shows what the user gave
    if (sheet) out.extra_inputs.push_back(input);
    return out;
  }
};

/// The file is not held open over the minutes of an inspection, and not made before there is something to store.
Baseline baseline_of(const Job& job, const std::filesystem::path& file, bool anew, History::Access access) {
  Baseline out;
  out.framed = job;
  if (!std::filesystem::exists(file)) return out;
  const History history(file, access);
  out.seen = history.sheet_id();
  if (out.seen && !job.tool.empty() && history.tool() != job.tool)
    throw Error(Fault::input, file.string() + ": is the history of tool \"" + history.tool() + "\", but " +
                                  job.file.string() + " is of \"" + job.tool + "\"; give another [history] file");
  if (out.seen && !anew) {
    out.sheet = history.sheet();
    out.first = history.records().at(0);
    const Record& first = *out.first;
    out.framed = in_frame_of(job, first);
    // Of what the baseline was made of, as the file itself grows.
    out.input = {Message(kBaselineUse), file.filename().string(),
                 sha256(first.job_sha256 + first.lower_sha256 + first.upper_sha256)};
  }
  return out;
}

/// The record to compare with: the baseline, or the last one of that date that is not `now`.
std::size_t find_then(const std::vector<Record>& records, std::size_t now, const std::string& against) {
  if (against.empty() || against == "baseline") return 0;
  for (std::size_t k = records.size(); k-- > 0;)
    if (k != now && records[k].date == against) return k;
  std::string dates;
  for (std::size_t k = 0; k < records.size(); ++k)
    if (k != now) dates += (dates.empty() ? "" : ", ") + records[k].date;
  throw Error(Fault::input, "--against " + against + ": no such inspection since the baseline; there are: " + dates);
}

}  // namespace

Recorded inspect_into_history(const Job& job, bool anew, const Progress& progress) {
  const auto file = history_file(job);
  check_history_place(file);
  const Baseline baseline = baseline_of(job, file, anew, History::Access::write);
  const Sheet* given = baseline.sheet ? &*baseline.sheet : nullptr;
  Recorded out;
  out.found = baseline.inspected(job, progress);
  if (out.found.doubt) return out;  // neither a baseline nor a change
  Record record = record_of(out.found);
  if (given) append(out.found.warnings, history::doubts_of(History(file, History::Access::read).records(), record));
  try {
    History history(file, History::Access::write);
    if (!given) {
      out.id = history.begin(job.tool, out.found.sheet, record, baseline.seen);
      out.baseline = true;
    } else {
      record.sheet = baseline.seen;
      out.id = history.add(record);
      out.baseline = out.id == history.records().at(0).id;
    }
  } catch (const Error& e) {
    out.id = 0, out.baseline = false, out.not_stored = e.what();
  }
  return out;
}

bool is_baseline(const ExtraInput& e) { return e.use.id == kBaselineUse; }

bool rests_on_baseline(const Inspection& r) {
  return std::any_of(r.extra_inputs.begin(), r.extra_inputs.end(), is_baseline);
}

Inspection inspect_as_recorded(const Job& job, const Inspection& then, const Progress& progress) {
  if (!rests_on_baseline(then)) return inspect(job, progress);
  const auto file = history_file(job);
  const std::string re_check = job.file.string() + ": a re-check, measured on the sheet of its tool's baseline; ";
  if (!std::filesystem::exists(file))
    throw Error(Fault::input, re_check + "give its history as " + file.string() +
                                  " to compute it again, or verify the signature alone, without --job");
  const Baseline baseline = baseline_of(job, file, false, History::Access::read);
  const auto same = [&](const ExtraInput& e) { return is_baseline(e) && e.sha256 == baseline.input.sha256; };
  if (!baseline.sheet || std::none_of(then.extra_inputs.begin(), then.extra_inputs.end(), same))
    throw Error(Fault::input, re_check + file.string() +
                                  " has another baseline; give the history of that time, or verify the signature "
                                  "alone, without --job");
  Inspection again = baseline.inspected(job, progress);
  // What the history said of the entry when it was made, as of the same scans under another date.
  for (const Message& m : then.warnings)
    if (m.id.find(".history-") != std::string::npos) again.warnings.push_back(m);
  return again;
}

void check_against(const Job& job, const std::string& against) {
  const auto file = history_file(job);
  if (!std::filesystem::exists(file)) return;
  const auto records = History(file, History::Access::read).records();
  if (records.empty()) return;
  const std::size_t then = find_then(records, records.size(), against);
  // What has worn would seem to be put on, and its limit on the other side.
  const bool dated = !against.empty() && against != "baseline";
  if (dated && history::is_later(records[then], job))
    throw Error(Fault::input, "--against " + against + ": is later than " + job.file.string() + ", of " + job.date +
                                  "; re-check the later job against " + job.date);
}

Recheck recheck(const Recorded& recorded, const std::string& against, const Recheck* since_baseline) {
  const Job& job = recorded.found.job;
  const History history(history_file(job), History::Access::read);
  const auto records = history.records();
  std::size_t now = 0;
  while (now < records.size() && records[now].id != recorded.id) ++now;
  const std::size_t then = find_then(records, now, against);
  const Sheet sheet = history.sheet().value();
  RecheckOptions options;
  options.limit = job.history.limit, options.tolerance = job.tolerance;
  return history::recheck(sheet, records, now, then, options, history::field_null(sheet), since_baseline);
}

}  // namespace gapfront::pipeline
