// The whole sentence as steps: validate → measure → predict → correct, and inspect() = all of them.
//
//   const Job tool = job::read_job("tool.toml");
//   const Measured m = pipeline::measure(tool);     // scans → sheet, gap, verdict
//   const Predicted p = pipeline::predict(m);       // → how it fills, with this gap and with the nominal one
//   const Inspection r = pipeline::correct(p);      // → what to change, re-computed
//
// A step takes what the one before found, and hands it on with its own findings added. To try a change, take a copy,
// change its `job` (a vent, a ply, the pump) and go on from there: nothing before it is computed again.
//
// Every step calls `progress` from time to time with its stage's name and the fraction done, and throws
// Error{Fault::cancelled} when that returns false. No step writes a file or prints.
#pragma once
#include <string>
#include <vector>
#include "gapfront/diagnose.hpp"
#include "gapfront/history.hpp"
#include "gapfront/inspection.hpp"
#include "gapfront/process_words.hpp"
#include "gapfront/progress.hpp"
#include "gapfront/recheck.hpp"
#include "gapfront/shot.hpp"
#include "gapfront/survey.hpp"

namespace gapfront {

namespace pipeline {
/// Refuses all that can be refused before a scan is read: files that are not there, contradicting or missing settings,
/// names given twice, an inlet or vent outside the seal line, a report folder or history that cannot be written.
/// Throws Error{Fault::input} with the first of them. It takes milliseconds; the steps below make the same checks but
/// those of what is to be written, as they write nothing.
void validate(const Job&);

/// Scans → registration → sheet → gap → verdict. With `given`, the gap is measured on that sheet (of an earlier
/// inspection, in the same tool frame) instead of one built from the lower scan.
/// Throws Error{Fault::input} as validate() does and for a file that cannot be read, and Error{Fault::measurement} for
/// halves that cannot be registered or do not face each other. A registration in doubt is no error: see `doubt`.
Measured measure(const Job&, const Progress& = {}, const Sheet* given = nullptr);

/// Gap → laminate → closing, filling, lead, drawn fillings, schedule. Of `job` it uses laminate, flow, closing and
/// ensemble; what it fills in there is in the result's job. Throws Error{Fault::measurement} when the registration is
/// in doubt, and Error{Fault::input} for an inlet or vent off the sheet, and for glass or flow that nothing can be
/// computed with.
Predicted predict(Measured, const Progress& = {});

/// Candidates → the chosen corrections with their effect re-computed → outcome. Of `job` it uses correct and ensemble.
/// Needs `halves`. Throws Error{Fault::input} without them.
Inspection correct(Predicted, const Progress& = {});

/// All of them. Where the registration is in doubt it ends after measure(), and what was not computed is NaN. The
/// halves are released. Errors are those of the steps.
/// `before`: an earlier inspection on the same sheet and in the same frame; it says which face has changed.
Inspection inspect(const Job&, const Progress& = {}, const Sheet* given = nullptr, const Record* before = nullptr);

/// Throws Error{Fault::input} when the job gives no date of the form YYYY-MM-DD: a history needs one.
Record record_of(const Inspection&);
/// The file of the job's tool: as the job says, or TOOL.history beside it. Throws Error{Fault::input} when the job
/// lacks what a history needs, the tool's name and the day of the scans.
std::filesystem::path history_file(const Job&);
/// The job with each target's tool place where the baseline found it, so that both are in one tool frame.
Job in_frame_of(Job, const Record& baseline);
}  // namespace pipeline

/// An inspection that is kept in its tool's history.
struct Recorded {
  Inspection found;
  long id = 0;             ///< of the history's row; 0: the registration is in doubt, and nothing was stored
  bool baseline = false;   ///< it began the history, or a new part of it
  std::string not_stored;  ///< why it could not be stored, in one line; empty: it is, or there was nothing to store
};

namespace pipeline {
/// Inspects the job on its tool's baseline sheet and in the baseline's frame, and stores the result. The first
/// inspection is the baseline; `anew` begins a new one (after work on the tool). Errors are those of inspect(), of
/// history_file() and of History, whose file is tried for writing before any scan is read. Should it fail after the
/// measurement, the inspection is returned with `not_stored`.
Recorded inspect_into_history(const Job&, bool anew, const Progress& = {});

/// Whether an input is the baseline in a tool's history on whose sheet an inspection was measured.
bool is_baseline(const ExtraInput&);
/// Whether an inspection was measured on a baseline's sheet: it is among its inputs.
bool rests_on_baseline(const Inspection&);
/// Inspects a job as an earlier inspection of it was made: by itself, or on the baseline's sheet, and stores nothing.
/// Throws Error{Fault::input} before anything is computed where the history is not there, or has another baseline.
Inspection inspect_as_recorded(const Job&, const Inspection& then, const Progress& = {});

/// Compares a recorded inspection with an earlier one of the same tool: that of the date `against` (YYYY-MM-DD), or the
/// baseline ("" or "baseline"). Throws Error{Fault::input} listing the dates when there is none. `since_baseline`: what
/// it comes to against the baseline where that was computed already, for what comes next.
Recheck recheck(const Recorded&, const std::string& against = "", const Recheck* since_baseline = nullptr);
/// Before measuring: the same fault, or that `against` is later than the job. Throws nothing where there is no history
/// yet.
void check_against(const Job&, const std::string& against);

/// Why the spots stay dry, by the inspection's own model. See diagnose(); units and obstacle are the inspection's.
Diagnosis diagnose(const Inspection&, const std::vector<DrySpot>&, DiagnoseOptions = {}, const Progress& = {});

/// A machine's log: text in columns, whose header names them with their units ("time [s]", "pressure [bar]", and
/// "volume [L]" or "rate [L/min]"). Throws Error{Fault::input} naming the line and the remedy.
ShotLog read_shot_log(const std::filesystem::path&);
/// Holds a log against the mold as measured, with its shots of before (see judge_shot()). With a light upper half in
/// the gap that it breathes to. Errors are those of predict() and judge_shot().
ShotFound judge_shot(const Measured&, const ShotLog&, const std::vector<double>& earlier, const Progress& = {});
/// What the history of the job's tool knows of normal shots, but of this log's; nothing where there is no history.
std::vector<double> normal_shots(const Job&, const ShotLog&);
/// Keeps the shot in the history of the job's tool, which is made where there is none. Errors are those of
/// history_file() and of History.
void keep_shot(const Measured&, const ShotLog&, const ShotFound&);

/// What an earlier inspection, as read_result() read it back, predicted of its corrections; for a job of the same tool.
/// Throws Error{Fault::input} when it is of another tool, chose no correction, or lacks a field.
Prediction prediction_of(Inspection earlier, const Job&);
/// The earlier inspection's name and date.
Message prediction_name(const Prediction&);
/// Whether the inspection is of the very scans that the prediction was made of, so that it tests nothing.
bool of_same_scans(const Prediction&, const Inspection&);
/// Tests the prediction, and keeps the outcome in the inspection (`expects`, `confirmed`, `expected_says`). A
/// registration in doubt tests nothing, nor do the same scans.
void test_prediction(const Prediction&, Inspection&);
}  // namespace pipeline

}  // namespace gapfront
