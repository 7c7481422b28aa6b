#include "job/sections.hpp"

namespace gapfront::job {

void read_history(Table t, Job& job, const std::filesystem::path& folder) {
  if (const auto file = t.text("file")) {
    if (file->empty()) t.fail("file", "must name the history file of the tool");
    job.history.file = (folder / *file).lexically_normal();
  } else {
    if (job.tool.empty()) t.fail("needs a file = \"TOOL.history\", or the tool's name in [job] tool");
    job.history.file = folder / (job.tool + ".history");
  }
  job.history.instrument = t.text("instrument").value_or("");
  job.history.limit = t.quantity("limit", Dimension::length, Sign::positive).value_or(0);
  t.done();
}

}  // namespace gapfront::job
