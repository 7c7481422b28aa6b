// What an inspection finds, step by step: measured, predicted, corrected. The input of report and history.
#pragma once
#include <memory>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/breathing.hpp"
#include "gapfront/confirm.hpp"
#include "gapfront/job.hpp"
#include "gapfront/material.hpp"
#include "gapfront/outcome.hpp"
#include "gapfront/patches.hpp"
#include "gapfront/radii.hpp"
#include "gapfront/seal.hpp"

namespace gapfront {

/// Where the line comes from inside which the sheet lies.
struct SealOrigin {
  /// Who drew the line.
  enum class Source { given, proposed, none } source = Source::given;  ///< given: by the job, or by a given sheet
  SealFound found = SealFound::rim;  ///< how a proposed one was found, or why none was
  double confidence = 0, u = 0;      ///< of a proposed one found by this inspection
};

/// How long a stage took.
struct StageTime {
  std::string stage;
  double seconds;
};

/// A file besides the scans and the job.
struct ExtraInput {
  Message use;
  std::string file, sha256;
};

/// Both halves in the tool frame, closed: the scans, and the nominal faces where the job gives them.
struct ClosedHalves {
  Surface lower, upper;
  std::optional<Mesh> nominal_lower, nominal_upper;
};

/// What measure() finds. Lengths mm, areas mm², tool frame; "per node": one value for each node of `sheet`.
struct Measured {
  Job job;  ///< as measured with: seal line, masks, limits per node and search bounds filled in
  std::string version;
  std::string lower_sha256, upper_sha256, job_sha256;
  std::string lower_format, upper_format;
  std::vector<ExtraInput> extra_inputs;
  std::string photo;                                   ///< of the tool, "data:image/…;base64,…"; empty: none
  std::vector<PatchFit> lower_patches, upper_patches;  ///< of the further scans of each half
  CleanReport lower_clean, upper_clean;
  Alignment alignment;
  std::shared_ptr<const ClosedHalves> halves;  ///< most of the memory; null in a finished inspection
  Sheet sheet;
  SealOrigin seal;  ///< the line itself is in job.sheet.seal
  GapMap gap;
  std::vector<SpotComparison> spots;  ///< against the map as measured, before any shift is removed
  SpotShift spot_shift;               ///< what the readings say that map and clamped mold have in common
  FaceMoves moves;                    ///< since the baseline, of a tool with a history
  std::optional<Doubt> doubt;         ///< the registration is in doubt: no verdict on the gap, and no further step
  Verdict verdict;
  Messages warnings;             ///< of all steps so far
  std::vector<StageTime> times;  ///< of all steps so far; left out of what is compared between runs
};

/// The filling with every inside radius packed, where one is not.
struct PackedFill {
  double fill_time = 0, dry_area = 0, max_lead_s = 0;  ///< s; mm²; s, of the filling as laid before this one
  int leads_at = -1;                                   ///< node of that lead
};

/// What predict() adds: how the mold closes and fills, with the measured gap and with the nominal one. Times s,
/// pressures Pa.
struct Predicted : Measured {
  std::vector<double> flow_gap;            ///< per node: measured gap, or what is assumed where not measured, mm
  LaminateMap nominal_laminate, laminate;  ///< in the gap as scanned; the fronts of a light half run in another one
  Filling nominal_filling, filling;
  Lead lead;
  Ensemble ensemble;
  Closing closing, nominal_closing;        ///< can the mold be closed, with the measured gap and with the nominal one?
  Breathing breathing, nominal_breathing;  ///< if computed, their fronts are `filling` and `nominal_filling`
  ProcessAdvice advice;
  std::vector<Bridge> bridges;             ///< of job.laminate.radii, in the gap as scanned
  PackedFill packed;                       ///< where one of them is open
  std::vector<FoundRadius> found_radii;    ///< bends of the sheet that job.laminate.radii does not name
  std::vector<double> capillary;           ///< modified capillary number per node; NaN: no front; empty: not asked for
  ResidualAir air;                         ///< of `filling`, if it was asked for
  MaterialUse material, nominal_material;  ///< of a part, with the measured gap and with the nominal one
};

/// What each node is after the chosen corrections, re-computed; one value per node.
struct NodesAfter {
  std::vector<double> deviation;       ///< mm; NaN where not measured
  std::vector<Conformity> conformity;  ///< of the re-computed gap, with the same U
  std::vector<double> lead;            ///< nominal arrival − arrival, s
};

/// What correct() adds, and with it the whole.
struct Inspection : Predicted {
  CorrectionPlan plan;
  Outcome outcome;        ///< what all this comes to, stated alike everywhere
  Filling filling_after;  ///< after the chosen corrections
  NodesAfter nodes_after;
  MaterialUse material_after;  ///< of a part, after the chosen corrections
  std::string live;            ///< what the page's own trials compute with, see live.hpp; empty: nothing can be tried
  Message expects;             ///< names the earlier inspection whose predictions were tested
  std::vector<Confirmed> confirmed;  ///< how they came out
  Text expected_says;                ///< of all of them together: the chance of trapped air, or why none was tested
};

}  // namespace gapfront
