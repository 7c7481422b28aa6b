// The whole sentence: scan → align → cavity → laminate → flow → conformity → correct.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>

#include "gapfront/error.hpp"
#include "gapfront/inspection.hpp"

namespace gapfront {
namespace {

class Clock {
 public:
  explicit Clock(std::vector<StageTime>& times) : times_(times) {}
  void stage(const std::string& name) {
    const auto now = std::chrono::steady_clock::now();
    times_.push_back({name, std::chrono::duration<double>(now - last_).count()});
    last_ = now;
  }

 private:
  std::vector<StageTime>& times_;
  std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

std::vector<Vec3> moved(const std::vector<Vec3>& points, const Rigid& motion) {
  std::vector<Vec3> out;
  out.reserve(points.size());
  for (const auto& p : points) out.push_back(motion * p);
  return out;
}

// The gap the front is computed with: measured, or nominal where there is no measurement (said in the report).
// A gap at or below zero cannot carry resin; the laminate stage clamps it to solid glass.
std::vector<double> gap_for_flow(const GapMap& map, const std::vector<double>& nominal) {
  std::vector<double> gap = nominal;
  for (std::size_t i = 0; i < gap.size(); ++i)
    if (map.nodes[i].measured) gap[i] = map.nodes[i].gap;
  return gap;
}

double total(const std::vector<double>& v) {
  double sum = 0;
  for (double x : v) sum += x;
  return sum;
}

std::string percent(double share) {
  char text[16];
  std::snprintf(text, sizeof text, "%.0f %%", 100 * share);
  return text;
}

// Halves that are swapped, or posed apart, show up as a sheet that mostly finds no partner, or as gaps that are
// mostly negative. Both are refused: a map of the remaining bits would look like a measurement.
void check_measured(const Sheet& sheet, const GapMap& map) {
  const double area = total(sheet.area);
  double behind = 0, measured = 0;
  for (std::size_t i = 0; i < map.nodes.size(); ++i)
    if (map.nodes[i].measured) {
      measured += sheet.area[i];
      if (map.nodes[i].gap < 0) behind += sheet.area[i];
    }
  if (measured < 0.5 * area)
    throw Error(Fault::measurement,
                "the halves do not face each other: a gap could be measured over only " + percent(measured / area) +
                    " of the sheet; check that the right two scans are given, the targets' places, and max_gap");
  if (behind > 0.5 * measured)
    throw Error(Fault::measurement,
                "the upper half lies below the lower over " + percent(behind / measured) +
                    " of the sheet: the two scans are probably swapped; exchange the files in [lower] and [upper]");
}

}  // namespace

Inspection inspect(const Job& job, const Progress& progress) {
  Inspection r;
  r.job = job;
  r.version = GAPFRONT_VERSION;
  Clock clock(r.times);

  Scan lower = read_scan(job.lower.file, job.lower.read, progress);
  Scan upper = read_scan(job.upper.file, job.upper.read, progress);
  r.job_sha256 = sha256_file(job.file);
  r.lower_sha256 = lower.sha256, r.upper_sha256 = upper.sha256;
  r.lower_format = lower.format, r.upper_format = upper.format;
  clock.stage("read");
  check_pair(lower, upper);
  r.lower_clean = clean(lower, job.clean, progress);
  r.upper_clean = clean(upper, job.clean, progress);
  clock.stage("clean");

  r.alignment = align(lower, upper, job.align, r.lower_clean.noise, r.upper_clean.noise, progress);
  clock.stage("align");

  const Surface low(moved(lower.cloud.points, r.alignment.lower_to_tool), r.lower_clean.spacing, r.lower_clean.noise);
  lower = {};  // the clouds are large: one copy each at a time
  const Surface up(moved(upper.cloud.points, r.alignment.upper_to_tool), r.upper_clean.spacing, r.upper_clean.noise);
  upper = {};
  clock.stage("search trees");
  r.sheet = build_sheet(low, up, job.sheet, progress);
  clock.stage("sheet");
  r.gap = measure_gap(r.sheet, low, up, r.alignment, job.gap, progress);
  check_measured(r.sheet, r.gap);
  r.spots = compare_spots(r.sheet, r.gap, job.spots);
  clock.stage("gap");

  const std::vector<double> nominal = nominal_gap(r.sheet, job.tolerance);
  r.flow_gap = gap_for_flow(r.gap, nominal);
  r.nominal_laminate = evaluate_laminate(r.sheet, nominal, job.laminate);
  r.laminate = evaluate_laminate(r.sheet, r.flow_gap, job.laminate);
  clock.stage("laminate");
  r.nominal_filling = fill(r.sheet, r.nominal_laminate, job.flow, progress);
  r.filling = fill(r.sheet, r.laminate, job.flow, progress);
  r.lead = compare_fillings(r.sheet, r.nominal_filling, r.filling);
  r.advised_schedule = recommend_schedule(r.sheet, r.laminate, job.flow);
  clock.stage("flow");

  r.verdict = judge(r.sheet, r.gap, job.tolerance);
  clock.stage("conformity");
  r.plan = plan_corrections({r.sheet, r.gap, job.tolerance, r.verdict, job.laminate, job.flow, r.nominal_filling,
                             r.filling, r.lead},
                            job.correct, progress);
  r.filling_after = r.filling;
  if (!r.plan.chosen.empty())
    r.filling_after = fill(r.sheet, evaluate_laminate(r.sheet, r.plan.gap_after, job.laminate), job.flow, progress);
  clock.stage("correct");
  report_progress(progress, "done", 1);
  return r;
}

}  // namespace gapfront
