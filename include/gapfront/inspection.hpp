// Everything one inspection found: the input of report and history.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/breathing.hpp"
#include "gapfront/confirm.hpp"
#include "gapfront/job.hpp"
#include "gapfront/outcome.hpp"
#include "gapfront/seal.hpp"

namespace gapfront {

/// Where the line comes from inside which the sheet lies.
struct SealOrigin {
  enum class Source { given, proposed, none } source = Source::given;  ///< given: by the job, or by a given sheet
  SealFound found = SealFound::rim;  ///< how a proposed one was found, or why none was
  double confidence = 0, u = 0;      ///< of a proposed one found by this inspection
};

struct StageTime {
  std::string stage;
  double seconds;
};

/// A file besides the scans and the job.
struct ExtraInput {
  std::string use, file, sha256;
};

struct Inspection {
  Job job;
  std::string version;
  std::string lower_sha256, upper_sha256, job_sha256;
  std::string lower_format, upper_format;
  std::vector<ExtraInput> extra_inputs;
  CleanReport lower_clean, upper_clean;
  Alignment alignment;
  Sheet sheet;
  SealOrigin seal;  ///< the line itself is in job.sheet.seal
  GapMap gap;
  std::vector<SpotComparison> spots;  ///< against the map as measured, before any shift is removed
  SpotShift spot_shift;               ///< what the readings say that map and clamped mold have in common
  std::optional<Doubt> doubt;         ///< the registration is in doubt: no verdict on the gap, no corrections
  Verdict verdict;
  std::vector<double> flow_gap;            ///< per node: measured gap, or nominal where not measured
  LaminateMap nominal_laminate, laminate;  ///< in the gap as scanned; the fronts of a light half run in another one
  Filling nominal_filling, filling;
  Lead lead;
  Ensemble ensemble;
  Closing closing, nominal_closing;        ///< can the mold be closed, with the measured gap and with the nominal one?
  Breathing breathing, nominal_breathing;  ///< if computed, their fronts are `filling` and `nominal_filling`
  ProcessAdvice advice;
  CorrectionPlan plan;
  Outcome outcome;                   ///< what all this comes to, stated alike everywhere
  Filling filling_after;             ///< after the chosen corrections
  std::string expects;               ///< the earlier inspection whose predictions were tested, in words
  std::vector<Confirmed> confirmed;  ///< how they came out
  std::vector<std::string> warnings;
  std::vector<StageTime> times;  ///< left out of what is compared between runs
  /// Values per node by the name of their field; only in an inspection that read_result() read back, which has these in
  /// place of what is per node above.
  std::map<std::string, std::vector<double>> columns;
};

/// The whole sentence: scan → align → cavity → laminate → flow → conformity → correct. With `given`, the gap is
/// measured on that sheet (of an earlier inspection, in the same tool frame) instead of one built from the lower scan.
Inspection inspect(const Job&, const Progress& = {}, const Sheet* given = nullptr);

}  // namespace gapfront
