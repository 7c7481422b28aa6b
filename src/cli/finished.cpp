// Whether a job's report is there already, of the very same inputs.
#include <algorithm>
#include <set>

#include "cli/many_jobs.hpp"
#include "core/sha256.hpp"
#include "gapfront/error.hpp"
#include "gapfront/fleet.hpp"
#include "gapfront/history.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/scan.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;

/// The files besides the scans that the job names.
std::vector<fs::path> files_besides(const Job& job) {
  std::vector<fs::path> out;
  for (const fs::path& f : {job.nominal_lower, job.nominal_upper, job.readings_file, job.photo})
    if (!f.empty()) out.push_back(f);
  for (const auto* f : {&job.sheet_mesh, &job.thickness, &job.surface_lower, &job.surface_upper, &job.painted})
    if (*f) out.push_back((*f)->file);
  for (const HalfInput* half : {&job.lower, &job.upper})
    for (const PatchInput& p : half->more)
      for (const fs::path& f : {p.file, p.pose})
        if (!f.empty()) out.push_back(f);
  return out;
}

/// As measure() says it: of several scans of a half, the hash of theirs.
std::string hash_of(const HalfInput& half) {
  std::string all = scan::sha256_file(half.file);
  for (const PatchInput& p : half.more) {
    all += scan::sha256_file(p.file);
    if (!p.pose.empty()) all += scan::sha256_file(p.pose);
  }
  return half.more.empty() ? all : sha256(all);
}

bool same_inputs(const Job& job, const Inspection& then) {
  if (then.version != GAPFRONT_VERSION || then.job_sha256 != sha256(job.text)) return false;
  if (then.lower_sha256 != hash_of(job.lower) || then.upper_sha256 != hash_of(job.upper)) return false;
  const auto files = files_besides(job);
  return std::all_of(then.extra_inputs.begin(), then.extra_inputs.end(), [&](const ExtraInput& e) {
    // The baseline is a row of the history, which kept_and_compared() asks.
    return pipeline::is_baseline(e) || std::any_of(files.begin(), files.end(), [&](const fs::path& f) {
             return f.filename() == e.file && scan::sha256_file(f) == e.sha256;
           });
  });
}

/// The inspection stands in the history; for a re-check, its comparison with the rows that are there now is in the
/// folder, unless it is a baseline.
bool kept_and_compared(const Job& job, const ManyJobs& all, const Inspection& then) {
  const auto file = pipeline::history_file(job);
  if (!fs::exists(file)) return false;
  const auto records = History(file, History::Access::read).list();
  // A new baseline may stand on a sheet of before as well: the newest row counts.
  const auto last = std::find_if(records.rbegin(), records.rend(),
                                 [&](const Record& r) { return history::same_inspection(r, then); });
  if (last == records.rend()) return false;
  if (!all.recheck) return true;
  const Record* own = &*last;
  const auto of_sheet = [&](long sheet) {
    return std::find_if(records.begin(), records.end(), [&](const Record& r) { return r.sheet == sheet; });
  };
  // What is later than a new baseline has to be compared with it; what was before it stays compared as it was.
  if (own->sheet != records.back().sheet && history::is_later(*own, *of_sheet(records.back().sheet))) return false;
  if (own == &*of_sheet(own->sheet)) return true;
  // Rates and next dates hang on every row of the baseline until the later of the two dates.
  const auto compares = [&](const std::string& stem) {
    const Recheck r = report::recheck_head(job.output / (stem + ".json")).recheck;
    const auto other = std::find_if(records.begin(), records.end(), [&](const Record& k) {
      return k.sheet == own->sheet && history::same_inspection(k, r.then);
    });
    if (other == records.end() || !history::same_inspection(r.now, then) || !fs::exists(job.output / (stem + ".html")))
      return false;
    if (stem != "recheck" && history::is_later(*other, *own))
      return false;  // older versions compared with a later date
    return r.rows_sha256 == history::rows_sha256(records, history::is_later(*other, *own) ? *other : *own);
  };
  return compares("recheck") && compares(recheck_stem(all.against));
}

}  // namespace

std::optional<Inspection> finished_result(const Job& job, const ManyJobs& all) {
  try {
    // Without the list of checksums nothing says that the folder is whole.
    if (!fs::exists(job.output / "result.json") || !fs::exists(job.output / "checksums.sha256") ||
        !report::changed_files(job.output).empty() || !report::missing_files(job.output).empty())
      return std::nullopt;
    Inspection then = report::result_head(job.output);
    if (!same_inputs(job, then)) return std::nullopt;
    const bool keeps = all.recheck || all.record || !job.history.file.empty();
    if (keeps && !then.doubt && !kept_and_compared(job, all, then)) return std::nullopt;
    return then;
  } catch (const Error&) {
    return std::nullopt;  // an older format, a scan that is gone: the run itself says so
  }
}

std::vector<std::string> stale_rechecks(const Inspection& now, const std::string& rows_sha256, bool baseline) {
  const fs::path& folder = now.job.output;
  std::set<std::string> stems;
  std::error_code fault;
  for (const auto& entry : fs::directory_iterator(folder, fault)) {
    const fs::path& file = entry.path();
    const std::string stem = file.stem().string();
    if ((stem == "recheck" || stem.starts_with("recheck-against-")) &&
        (file.extension() == ".json" || file.extension() == ".html"))
      stems.insert(stem);
  }
  const auto holds = [&](const std::string& stem) {
    if (now.doubt || baseline) return false;
    try {
      const Recheck r = report::recheck_head(folder / (stem + ".json")).recheck;
      if (stem != "recheck" && history::is_later(r.then, r.now)) return false;
      return history::same_inspection(r.now, now) && (rows_sha256.empty() || r.rows_sha256 == rows_sha256);
    } catch (const Error&) {
      return false;  // of another version, or half of it is gone
    }
  };
  std::vector<std::string> out;
  for (const std::string& stem : stems)
    for (const char* extension : {".json", ".html", ".pdf"})
      if (const std::string name = stem + extension; !holds(stem) && fs::exists(folder / name)) out.push_back(name);
  for (const std::string& name : report::foreign_files(folder, out)) std::erase(out, name);
  return out;
}

}  // namespace gapfront::cli
