#include "pipeline/validate.hpp"

#include "gapfront/pipeline.hpp"
#include "pipeline/checks.hpp"
#include "pipeline/places.hpp"

namespace gapfront {
namespace pipeline {

void check_settings(const Job& job, bool own_sheet) {
  if (own_sheet && job.sheet.seal.size() >= 3) check_ports(job.sheet.seal, job.sheet, job.file.string(), job.flow);
}

}  // namespace pipeline

void validate(const Job& job) {
  // A job with a history is measured on its baseline's sheet, which the job's own line does not bound.
  pipeline::check_settings(job, job.history.file.empty());
  if (!job.output.empty()) pipeline::check_report_place(job.output);
  if (!job.history.file.empty()) pipeline::check_history_place(job.history.file);
}

}  // namespace gapfront
