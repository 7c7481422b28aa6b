// A shot's log against the mold as measured, and in its tool's history.
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "pipeline/flow_case.hpp"
#include "pipeline/places.hpp"

namespace gapfront::pipeline {

ShotFound judge_shot(const Measured& measured, const ShotLog& log, const std::vector<double>& earlier,
                     const Progress& progress) {
  if (measured.doubt) throw Error(Fault::measurement, say(measured.verdict.headline, {measured.job.units}));
  Measured m = measured;
  settle_process(m);
  auto gap = gap_for_flow(m);
  if (!m.job.flow.closing.half.empty())
    gap = flow::under_filling(gap, flow::breathe(m.sheet, gap, m.job.laminate, m.job.flow, progress));
  ShotOptions options;
  options.permeability_spread = m.job.ensemble.spread, options.earlier = earlier;
  return diagnosis::judge_shot(m.sheet, gap, m.job.laminate, m.job.flow, log, options, progress);
}

std::vector<double> normal_shots(const Job& job, const ShotLog& log) {
  const auto file = history_file(job);
  std::vector<double> out;
  if (!std::filesystem::exists(file)) return out;
  for (const ShotRecord& r : History(file, History::Access::read).shots())
    if (r.verdict == to_string(ShotVerdict::normal) && r.log_sha256 != log.sha256) out.push_back(r.resists);
  return out;
}

void keep_shot(const Measured& m, const ShotLog& log, const ShotFound& found) {
  const auto file = history_file(m.job);
  check_history_place(file);
  ShotRecord r;
  r.date = m.job.date, r.cycles = m.job.cycles, r.version = m.version, r.job_sha256 = m.job_sha256;
  r.file = std::filesystem::path(log.file).filename().string(), r.log_sha256 = log.sha256;
  r.verdict = to_string(found.verdict), r.cause = to_string(found.causes.at(0).cause);
  r.resists = found.resists, r.volume = found.volume, r.fill_time = found.duration;
  History(file, History::Access::write).add(r);
}

}  // namespace gapfront::pipeline
