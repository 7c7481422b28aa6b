#include <algorithm>
#include <cmath>
#include <iostream>

#include "cli/commands.hpp"
#include "cli/many_jobs.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/report.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

std::string cycles_left(const Wear& w) {
  if (!w.enough)
    return "not enough evidence to say when the limit is reached" +
           (w.left_low > 0 ? "; not before " + spoken_cycles(w.left_low) + " cycles from now (95 %)" : "");
  if (w.left_high <= 0) return "the limit is reached";
  return spoken_cycles(w.left) + " cycles left until the limit (95 %: " + spoken_cycles(w.left_low) + " to " +
         spoken_cycles(w.left_high) + ")";
}

std::string datum_words(const Recheck& r) {
  switch (r.datum) {
    case DatumState::steady:
      return "the targets stand where they stood";
    case DatumState::unchecked:
      return "not checked: fewer than four common targets";
    case DatumState::target_moved:
      return "a target moved; see the notes";
    case DatumState::half_moved:
      return "the upper half sits otherwise; see the notes";
  }
  return "";
}

void print_recheck(const Job& job, const Recheck& r, const std::string& outcome, const std::filesystem::path& report) {
  const auto units = job.units;
  const std::string unit = length_unit(units);
  const auto within = [&](double value, double U, int decimals) {
    return spoken_length(value, decimals, units, true) + " ± " + spoken_length(U, decimals, units) + " " + unit;
  };
  const auto date = [](const Record& x) { return x.date + words(" (%.0f cycles)", x.cycles); };
  std::cout << job.name << "\n"
            << say(r.headline, {units}) << "\n"
            << outcome << "\n\nCompared    " << date(r.now) << " with " << date(r.then) << "\nDatum       "
            << datum_words(r) << "\n";
  for (const Wear& w : r.wear) {
    std::cout << w.name << std::string(12 - w.name.size(), ' ') << (w.face == "both" ? "both faces" : w.face + " face")
              << ", " << format_area(w.area, units) << " around " << spoken_place(w.centre, units)
              << "\n            changed by " << within(w.peak, w.peak_U, 3) << " at most, "
              << within(w.mean, w.mean_U, 3) << " in the mean\n";
    if (w.line.dof > 0)
      std::cout << "            " << within(1e3 * w.rate, 1e3 * w.rate_U, 4) << " per 1,000 cycles (95 %, "
                << w.course.size() << " inspections); " << cycles_left(w) << "\n";
    else
      std::cout << "            no rate: all inspections are at the same number of cycles\n";
  }
  // A lead below a thousandth of the fill time is the calculation's own scatter.
  if (r.front.max_node >= 0 && r.front.max_s > 1e-3 * r.then.fill_time)
    std::cout << "Front       comes up to " << time_in_fill(r.front.max_s, r.then.fill_time)
              << " earlier than then; filling " << time_in_fill(r.then.fill_time, r.then.fill_time) << " -> "
              << time_in_fill(r.now.fill_time, r.then.fill_time) << ", dry " << format_area(r.then.dry_area, units)
              << " -> " << format_area(r.now.dry_area, units) << "\n";
  else
    std::cout << "Front       as it was\n";
  const bool reached =
      std::any_of(r.wear.begin(), r.wear.end(), [](const Wear& w) { return w.enough && w.left_high <= 0; });
  if (reached)
    std::cout << "Next        mend the place before more parts are made, then recheck with --new-baseline\n";
  else
    std::cout << "Next        re-check " << words("at %.0f cycles", r.next_cycles)
              << (r.next_date.empty() ? "" : ", at today's pace " + r.next_date) << ": " << say(r.next_why, {units})
              << "\n";
  for (const auto& c : r.cancels) std::cout << "Difference  " << say(c, {units}) << "\n";
  for (const auto& n : r.notes) std::cout << "Note        " << say(n, {units}) << "\n";
  std::cout << "\nReport      " << (report / "recheck.html").string() << "\n";
}

}  // namespace

int run_recheck(const RecheckArguments& arguments) {
  if (many_asked(arguments.many)) {
    if (arguments.new_baseline)
      throw Error(Fault::input, "--new-baseline: is for one tool after work on it; re-check that job by itself");
    return run_many(
        {arguments.many, true, true, arguments.output, "", arguments.against, arguments.json, arguments.quiet});
  }
  Job job = job::read_job(arguments.many.jobs.at(0));
  if (!arguments.output.empty()) job.output = arguments.output;
  pipeline::validate(job);
  const auto file = pipeline::history_file(job);
  if (!arguments.new_baseline) pipeline::check_against(job, arguments.against);
  const Progress progress = terminal_progress(arguments.quiet);
  const Recorded recorded = pipeline::inspect_into_history(job, arguments.new_baseline, progress);
  const bool stored = recorded.not_stored.empty();
  if (recorded.found.doubt || recorded.baseline || !stored) {
    write_report_of(recorded.found, progress);
    clear_progress();
  }
  if (recorded.found.doubt) end_in_doubt(recorded.found, "recheck");
  refuse_unstored(recorded);
  if (recorded.baseline) {
    if (!arguments.quiet)
      std::cout << job.name << "\nThis is the baseline of tool " << job.tool << ", stored in " << file.string()
                << ". Re-check after some cycles with a job of the new scans.\n"
                << report::outcome_line(recorded.found) << "\n\nReport      " << (job.output / "report.html").string()
                << "\n";
    return 0;
  }
  const Recheck r = pipeline::recheck(recorded, arguments.against);
  const std::string json = report::recheck_json(job, r, report::outcome_says(recorded.found));
  write_report_of(recorded.found, progress, report::page_files(json, "recheck"));
  clear_progress();
  if (arguments.json)
    std::cout << json;
  else if (!arguments.quiet)
    print_recheck(job, r, report::outcome_line(recorded.found), job.output);
  return 0;
}

}  // namespace gapfront::cli
