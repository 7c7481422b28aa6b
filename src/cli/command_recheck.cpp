#include <algorithm>
#include <cmath>
#include <iostream>
#include <sstream>

#include "cli/commands.hpp"
#include "cli/many_jobs.hpp"
#include "cli/terminal.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/report.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

std::string cycles_left(const Wear& w) {
  if (at_limit(w)) return "the limit is reached";
  if (w.bent) return "no straight line holds through the course, so no cycles left are given";
  if (!w.enough)
    return "not enough evidence to say when the limit is reached" +
           (w.left_low > 0 ? "; not before " + spoken_cycles(cycles_at_least(w.left_low)) + " cycles from now (95 %)"
                           : "");
  return spoken_cycles(w.left) + " cycles left until the limit (95 %: " + spoken_cycles(cycles_at_least(w.left_low)) +
         " to " + spoken_cycles(w.left_high) + ")";
}

std::string datum_words(const Recheck& r) {
  switch (r.datum) {
    case DatumState::steady:
      return "neither the targets nor the seat have moved";
    case DatumState::unchecked:
      return "not checked: fewer than four common targets";
    case DatumState::target_moved:
      return "a target moved; see the notes";
    case DatumState::half_moved:
      return "the upper half sits differently; see the notes";
    case DatumState::untold:
      return "whether the halves sit differently or a face has worn cannot be told";
  }
  return "";
}

/// A label of twelve columns, or a longer one as it is.
std::string label_of(const std::string& name) {
  return name + std::string(name.size() < 12 ? 12 - name.size() : 1, ' ');
}

void print_recheck(const Job& job, const Recheck& r, const Inspection& found, const std::string& page,
                   std::ostream& out) {
  const auto units = job.units;
  const std::string unit = length_unit(units);
  const auto within = [&](double value, double U, int decimals) {
    return spoken_length(value, decimals, units, true) + " ± " + spoken_length(U, decimals, units) + " " + unit;
  };
  const auto date = [](const Record& x) { return x.date + words(" (%.0f cycles)", x.cycles); };
  out << bold(say(r.headline, {units}), styled_terminal()) << "\n"
      << job.name << "\n"
      << report::outcome_line(found) << "\n\nCompared    " << date(r.now) << " with " << date(r.then)
      << "\nDatum       " << datum_words(r) << "\n";
  for (const Wear& w : r.wear) {
    out << label_of(w.name) << (w.face == "both" ? "both faces" : w.face + " face") << ", "
        << format_area(w.area, units) << " around " << spoken_place(w.centre, units) << "\n            changed by "
        << within(w.peak, w.peak_U, 3) << " at its greatest, " << within(w.mean, w.mean_U, 3) << " in the mean\n";
    if (w.by_seat) out << "            past its limit by the seat's movement; without it, as the wear is:\n";
    if (w.bent)
      out << "            " << cycles_left(w) << " (" << w.course.size() << " inspections)\n";
    else if (w.paceless())
      out << "            no rate: a gap that narrows between two inspections tells none\n";
    else if (w.straight())
      out << "            " << within(1e3 * w.rate, 1e3 * w.rate_U, 4) << " per 1,000 cycles (95 %, " << w.course.size()
          << " inspections); " << cycles_left(w) << "\n";
    else
      out << "            no rate: all inspections are at the same number of cycles\n";
  }
  // A lead below a thousandth of the fill time is the calculation's own scatter.
  const double full = r.then.fill_time, early = r.front.max_node >= 0 ? r.front.max_s : 0;
  const double late = latest_front(r).second;
  std::string comes;
  if (early > 1e-3 * full) comes = time_in_fill(early, full) + " earlier";
  if (late > 1e-3 * full) comes += (comes.empty() ? "" : " and up to ") + time_in_fill(late, full) + " later";
  if (!comes.empty())
    out << "Front       comes up to " << comes << " than then; filling " << time_in_fill(full, full) << " -> "
        << time_in_fill(r.now.fill_time, full) << ", dry " << format_area(r.then.dry_area, units) << " -> "
        << format_area(r.now.dry_area, units) << "\n";
  else
    out << "Front       as it was\n";
  if (!(r.next_cycles > r.now.cycles))  // also where there is none
    out << "Next        " << say(r.next_why, {units}) << "\n";
  else
    out << "Next        re-check " << words("at %.0f cycles", r.next_cycles)
        << (r.next_date.empty() ? "" : ", at today's pace " + r.next_date) << ": " << say(r.next_why, {units}) << "\n";
  for (const auto& c : r.cancels) out << "Difference  " << say(c, {units}) << "\n";
  for (const auto& n : r.notes) out << "Note        " << say(n, {units}) << "\n";
  out << "\nReport      " << (job.output / page).string() << "\n";
  print_work_order(found, job.output, out);
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
  auto names = report::report_names(job.output);
  for (const std::string& page : {std::string("recheck"), recheck_stem(arguments.against)})
    names.insert(names.end(), {page + ".json", page + ".html"});
  report::refuse_foreign(job.output, names);
  const auto file = pipeline::history_file(job);
  if (!arguments.new_baseline) pipeline::check_against(job, arguments.against);
  const Progress progress = terminal_progress(arguments.quiet);
  const Recorded recorded = pipeline::inspect_into_history(job, arguments.new_baseline, progress);
  const bool stored = recorded.not_stored.empty();
  if (recorded.found.doubt || recorded.baseline || !stored) {
    write_report_of(recorded.found, progress, {}, "", recorded.baseline);
    clear_progress();
  }
  if (recorded.found.doubt) end_in_doubt(recorded.found, "recheck");
  refuse_unstored(recorded);
  if (recorded.baseline) {
    std::ostringstream out;
    out << bold("This is the baseline of tool " + job.tool + ".", styled_terminal())
        << " Re-check after some cycles with a job of the new scans.\n"
        << job.name << "\n"
        << report::outcome_line(recorded.found) << "\n\nHistory     " << file.string() << "\nReport      "
        << (job.output / "report.html").string() << "\n";
    print_work_order(recorded.found, job.output, out);
    if (!arguments.quiet) std::cout << broken_at(out.str(), terminal_columns());
    return 0;
  }
  const std::string stem = recheck_stem(arguments.against);
  // recheck.json is where the tool stands since its baseline, and stays that.
  const Recheck standing = pipeline::recheck(recorded);
  const Recheck r = stem == "recheck" ? standing : pipeline::recheck(recorded, arguments.against, &standing);
  const Text outcome = report::outcome_says(recorded.found);
  const std::string json = report::recheck_json(job, r, outcome);
  FileSet files = report::page_files(json, stem);
  if (stem != "recheck")
    for (auto& f : report::page_files(report::recheck_json(job, standing, outcome), "recheck"))
      files.push_back(std::move(f));
  write_report_of(recorded.found, progress, files, standing.rows_sha256);
  clear_progress();
  if (arguments.json) {
    std::cout << json;
  } else if (!arguments.quiet) {
    std::ostringstream out;
    print_recheck(job, r, recorded.found, stem + ".html", out);
    std::cout << broken_at(out.str(), terminal_columns());
  }
  return 0;
}

}  // namespace gapfront::cli
