#include "cli/record.hpp"

#include "gapfront/error.hpp"

namespace gapfront::cli {

Recorded inspect_into_history(const Job& job, bool anew, const Progress& progress) {
  const auto file = history_file(job);
  Recorded out;
  std::optional<Sheet> sheet;
  Job framed = job;
  long seen = 0;
  // The file is not held open over the minutes of an inspection, and not made before there is something to store.
  if (std::filesystem::exists(file)) {
    const History history(file, History::Access::write);
    seen = history.sheet_id();
    if (seen && !job.tool.empty() && history.tool() != job.tool)
      throw Error(Fault::input, file.string() + ": is the history of tool \"" + history.tool() + "\", but " +
                                    job.file.string() + " is of \"" + job.tool + "\"; give another [history] file");
    if (seen && !anew) {
      sheet = history.sheet();
      framed = in_frame_of(job, history.records().at(0));
    }
  }
  out.found = inspect(framed, progress, sheet ? &*sheet : nullptr);
  out.found.job.align = job.align;  // the report shows what the user gave
  if (out.found.doubt) return out;  // neither a baseline nor a change
  Record record = record_of(out.found);
  History history(file, History::Access::write);
  if (!sheet) {
    out.id = history.begin(job.tool, out.found.sheet, record, seen);
    out.baseline = true;
  } else {
    record.sheet = seen;
    out.id = history.add(record);
    out.baseline = out.id == history.records().at(0).id;
  }
  return out;
}

}  // namespace gapfront::cli
