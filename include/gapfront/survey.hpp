// What two scans tell before there is a job: units, balls, how the halves meet, land and seal line. `look` and `new`
// both say what is found here, so they agree.
#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include "gapfront/balls.hpp"
#include "gapfront/scan.hpp"
#include "gapfront/seal.hpp"

namespace gapfront {

struct Job;

/// One scan, cleaned, in mm. Where neither file nor caller names the unit, the likely one is applied.
struct SurveyedScan {
  Scan scan;  ///< scan.unit: mm per unit of the file, as applied
  CleanReport clean;
  ScanFacts facts;   ///< in mm after that; `likely_unit` and its reason as they follow from the file's own numbers
  std::string unit;  ///< name of the unit applied
  std::vector<FoundBall> balls;
  std::vector<FoundDowel> dowels;
};

namespace pipeline {
/// Reads, cleans and looks at one scan. Throws as read_scan().
SurveyedScan survey_scan(const std::filesystem::path&, const ReadOptions& = {}, const Progress& = {});
}  // namespace pipeline

/// What two scans tell.
struct Survey {
  SurveyedScan lower, upper;
  bool by_readings = false;           ///< of a job whose map is by readings alone: `upper` is a stand-in, not a scan
  std::vector<DatumFeature> datum;    ///< a plane, a line and a point touched by the same names on both halves, or none
  bool face_to_face = false;          ///< the scans lie as in the closed mold, in one frame
  std::vector<Target> balls;          ///< B1, B2… matched between the halves, places in the scans' own frames
  std::vector<Target> dowels;         ///< D1, D2… in both halves and on each other when closed
  int matches = 0;                    ///< number of ways in which balls match; more than one: none are given
  double ball_misfit = 0;             ///< RMS distance of matched balls when closed by them, mm
  bool closed = false;                ///< by the balls, or as they lie
  Message why_open;                   ///< why not
  Rigid closing = Rigid::Identity();  ///< the upper scan's frame → the lower scan's; only if closed
  double gap = 0;                     ///< median distance between the faces, mm, to a tenth; 0: unknown
  SealProposal seal;                  ///< in the frame `to_tool` leads to; only if closed
  /// The lower scan's frame → the frame that a job from this survey uses as tool frame: as it is where the halves lie
  /// face to face; otherwise Z leaves the flange, with the origin in the middle of the seal line and X along it.
  Rigid to_tool = Rigid::Identity();
  bool framed = false;  ///< such a frame was laid
};

namespace pipeline {
/// Throws Error{Fault::input} for what no job could be made of (see check_pair).
Survey survey_pair(const std::filesystem::path& lower, const std::filesystem::path& upper, const ReadOptions& = {},
                   const Progress& = {});
/// The same of two scans that were read.
Survey survey_pair(SurveyedScan lower, SurveyedScan upper);
/// The same of a job that there is: its scans in its units, closed by its own [align] into its own tool frame. Where
/// that cannot be done, `why_open` says why.
Survey survey_job(const Job&, const Progress& = {});

/// Why there is no seal line, or how one was found.
Message seal_says(const SealProposal&);

/// An annotated job file for the two scans of a survey. Paths are written relative to that folder.
std::string draft_job(const Survey&, const std::filesystem::path& relative_to);
/// The same of two scans: survey_pair(), then draft_job().
std::string draft_job(const std::filesystem::path& lower, const std::filesystem::path& upper,
                      const std::filesystem::path& relative_to);
}  // namespace pipeline

}  // namespace gapfront
