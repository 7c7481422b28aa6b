// Everything one inspection found: the input of report and history.
#pragma once
#include <string>
#include <vector>
#include "gapfront/job.hpp"

namespace gapfront {

struct StageTime {
  std::string stage;
  double seconds;
};

struct Inspection {
  Job job;
  std::string version;
  std::string lower_sha256, upper_sha256, job_sha256;
  std::string lower_format, upper_format;
  CleanReport lower_clean, upper_clean;
  Alignment alignment;
  Sheet sheet;
  GapMap gap;
  std::vector<SpotComparison> spots;
  Verdict verdict;
  std::vector<double> flow_gap;  ///< per node: measured gap, or nominal where not measured
  LaminateMap nominal_laminate, laminate;
  Filling nominal_filling, filling;
  Lead lead;
  std::vector<RateStep> advised_schedule;
  CorrectionPlan plan;
  Filling filling_after;  ///< after the chosen corrections
  std::vector<std::string> warnings;
  std::vector<StageTime> times;  ///< left out of what is compared between runs
};

/// The whole sentence: scan → align → cavity → laminate → flow → conformity → correct. With `given`, the gap is measured
/// on that sheet (of an earlier inspection, in the same tool frame) instead of one built from the lower scan.
Inspection inspect(const Job&, const Progress& = {}, const Sheet* given = nullptr);

}  // namespace gapfront
