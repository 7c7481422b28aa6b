#include <cmath>
#include <cstdio>
#include <iostream>
#include <optional>
#include <sstream>

#include "cli/commands.hpp"
#include "cli/expected.hpp"
#include "cli/many_jobs.hpp"
#include "cli/terminal.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/process_words.hpp"
#include "gapfront/report.hpp"
#include "gapfront/survey.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

std::string place(const Vec3& p, UnitSystem units) { return spoken_place(p, units); }

std::string percent(double fraction) {
  char s[32];
  std::snprintf(s, sizeof s, "%.1f %%", 100 * fraction);
  return s;
}

std::string whole_percent(double fraction) {
  char s[32];
  std::snprintf(s, sizeof s, "%.0f %%", 100 * fraction);
  return s;
}

void print_masked(const Inspection& r, std::ostream& out) {
  if (r.job.sheet.masks.empty() || !(r.sheet.masked_area > 0)) return;
  out << "Masked      " << format_area(r.sheet.masked_area, r.job.units) << " around";
  // The first few: the full list is in the report.
  constexpr std::size_t shown = 8;
  for (std::size_t i = 0; i < std::min(shown, r.job.sheet.masks.size()); ++i)
    out << (i ? ", " : " ") << r.job.sheet.masks[i].name;
  if (r.job.sheet.masks.size() > shown) out << " and " << r.job.sheet.masks.size() - shown << " more";
  out << "\n";
}

void print_front(const Inspection& r, std::ostream& out) {
  const auto units = r.job.units;
  const auto time = [&](double t) { return time_in_fill(t, r.nominal_filling.fill_time); };
  // A lead below a thousandth of the fill time is the calculation's own scatter.
  if (r.lead.max_node >= 0 && r.lead.max_s > 1e-3 * r.nominal_filling.fill_time) {
    out << "Front       " << time(r.lead.max_s) << " early at " << place(r.sheet.mesh.points[r.lead.max_node], units)
        << " against the nominal gap\n";
  } else {
    out << "Front       as with the nominal gap\n";
  }
  for (std::size_t k = 0; k < std::min<std::size_t>(3, r.lead.regions.size()); ++k) {
    const auto& g = r.lead.regions[k];
    out << "Leads       around " << place(g.centre, units) << " by " << time(g.peak_s) << ", "
        << whole_percent(0.01 * g.peak_percent) << " of the fill time";
    if (std::isfinite(g.probability)) out << ", with a probability of " << whole_percent(g.probability);
    if (!g.fed_by.empty()) out << "; fed by the gap region " << g.fed_by;
    out << "\n";
  }
  const auto ends = [&](const Filling& f) {
    const double stops = flow::stops_at(f, r.job.flow);
    return std::isfinite(stops) ? "stops for the gel after " + time(stops) : time(f.fill_time);
  };
  out << "Filling     " << ends(r.filling) << " (nominal " << ends(r.nominal_filling) << ")\n";
  for (const Message& m : pipeline::supply_words(r)) out << "Supply      " << say(m, {units}) << "\n";
  if (r.filling.pockets.empty()) out << "Pockets     none in the one filling computed\n";
  const bool little = flow::dry_area(r.filling) <= r.job.ensemble.min_dry;
  for (const auto& p : r.filling.pockets)
    out << "Pocket      " << format_area(p.area, units)
        << (!std::isfinite(p.area_U) ? "" : " (± " + format_area(p.area_U, units) + " by the mesh)") << " stays dry at "
        << place(p.centre, units) << (p.area_fine == 0 ? ", which half the edge does not confirm" : "")
        << (little ? ", too little to count as trapped air" : "") << "\n";
}

/// As many as a plan has as a rule: the full list is in the report.
constexpr std::size_t kCorrectionsShown = 8;

void print_corrections(const Inspection& r, std::ostream& out) {
  const auto units = r.job.units;
  const auto time = [&](double t) { return time_in_fill(t, r.nominal_filling.fill_time); };
  // What holds up all work stands above the verdict; steps that nobody is to take yet are no instruction.
  if (!r.plan.chosen.empty() && !report::has_work_order(r)) {
    out << "Withheld    work order: what the first line says comes first\n";
    return;
  }
  if (r.plan.chosen.empty())
    out << "Correct     " << (r.plan.not_cured.empty() ? "" : "none. ") << say(r.plan.remains, {r.job.units}) << "\n";
  for (std::size_t i = 0; i < std::min(kCorrectionsShown, r.plan.chosen.size()); ++i) {
    const auto& c = r.plan.candidates[r.plan.chosen[i]];
    const Effect& before = i ? r.plan.after_each[i - 1] : r.plan.now;
    const Effect& after = r.plan.after_each[i];
    std::string label = "Correct " + c.name;
    label.resize(std::max<std::size_t>(label.size() + 1, 12), ' ');
    out << label << say(c.instruction, {r.job.units}) << "\n            out of tolerance "
        << format_area(before.out_of_tolerance_area, units) << " -> " << format_area(after.out_of_tolerance_area, units)
        << ", greatest lead " << time(before.max_lead_s) << " -> " << time(after.max_lead_s) << ", dry "
        << format_area(before.dry_area, units) << " -> " << format_area(after.dry_area, units)
        << (correct::drawn_alike(before, after)
                ? " (on average of drawn fillings " + format_area(before.expected_dry_area, units) + " -> " +
                      format_area(after.expected_dry_area, units) + ", trapped air in " + whole_percent(before.pocket) +
                      " -> " + whole_percent(after.pocket) + " of them)"
                : "")
        << " (re-computed)\n";
  }
  if (r.plan.chosen.size() > kCorrectionsShown)
    out << "            and " << r.plan.chosen.size() - kCorrectionsShown << " more, in the work order\n";
}

/// The first few; the full list is in result.json.
void print_unseen(const Inspection& r, std::ostream& out) {
  const auto units = r.job.units;
  for (std::size_t i = 0; i < std::min<std::size_t>(3, r.verdict.unseen.size()); ++i) {
    const UnseenPlace& p = r.verdict.unseen[i];
    out << "Not seen    " << format_area(p.area, units) << " at " << place(p.centre, units) << ": "
        << say(cavity::why_missing(p.missing), {r.job.units}) << "\n";
  }
  if (r.verdict.unseen.size() > 3) out << "            and " << r.verdict.unseen.size() - 3 << " smaller places\n";
}

/// What was guessed and not confirmed: it stands right under the verdict.
void print_open(const Inspection& r, std::ostream& out) {
  if (r.seal.source == SealOrigin::Source::proposed)
    out << "Seal line   "
        << (r.seal.confidence > 0 ? say(pipeline::seal_says({r.seal.found, {}, r.seal.confidence}))
                                  : "proposed from the scans, in the job")
        << ", not confirmed\n";
  if (r.job.unconfirmed.empty()) return;
  out << "Unconfirmed ";
  for (const auto& u : r.job.unconfirmed)
    out << (&u == &r.job.unconfirmed.front() ? "" : "; ") << u.key << (u.value.empty() ? "" : " = " + u.value);
  out << "\n            (guesses: check each in the job, then take it off the list \"unconfirmed\")\n";
}

void print_doubt(const Inspection& r, const std::filesystem::path& folder, std::ostream& out) {
  out << r.job.name << "\n" << say(r.verdict.headline, {r.job.units}) << "\n\n";
  if (r.doubt->area > 0)
    out << "Crossing    the halves run through each other over " << format_area(r.doubt->area, r.job.units) << "\n";
  print_masked(r, out);
  out << "Withheld    verdict, front, corrections and work order\n";
  print_open(r, out);
  if (!r.expects.empty()) out << "Predicted   by " << say(r.expects) << ": not tested\n";
  for (const auto& w : r.warnings) out << "Note        " << say(w, {r.job.units}) << "\n";
  out << "\nReport      " << (folder / "report.html").string() << "\n";
}

void print_summary(const Inspection& r, const std::filesystem::path& folder, std::ostream& out) {
  if (r.doubt) return print_doubt(r, folder, out);
  const bool styled = styled_terminal();
  // The same scans again say nothing of the work that was asked about.
  if (!r.expects.empty() && r.confirmed.empty() && !r.expected_says.empty())
    out << bold(say(r.expected_says, {r.job.units}), styled) << "\n";
  // No verdict on the gap matters more than what no work on the gap can cure.
  if (!r.plan.obstacle_says.empty()) out << bold(say(r.plan.obstacle_says, {r.job.units}), styled) << "\n";
  out << bold(say(r.verdict.headline, {r.job.units}), styled) << "\n"
      << r.job.name << "\n"
      << report::outcome_line(r) << "\n";
  print_open(r, out);
  out << "\nArea        ";
  for (const auto c :
       {Conformity::conforming, Conformity::undecided, Conformity::nonconforming, Conformity::not_measured})
    out << (c == Conformity::conforming ? "" : ", ") << percent(r.verdict.fraction[static_cast<int>(c)]) << " "
        << to_string(c);
  out << "\n";
  for (const Message& m : r.verdict.would_change)
    if (m.id.starts_with("better.")) out << "Decide      " << say(m, {r.job.units}) << "\n";
  print_unseen(r, out);
  print_masked(r, out);
  print_front(r, out);
  print_expected(r, out);
  if (const Text scan = conformity::scan_first(r.verdict, !r.plan.chosen.empty()); !scan.empty())
    out << "Scan        " << say(scan, {r.job.units}) << "\n";
  print_corrections(r, out);
  for (const auto& w : r.warnings) out << "Note        " << say(w, {r.job.units}) << "\n";
  out << "\nReport      " << (folder / "report.html").string() << "\n";
  print_work_order(r, folder, out);
}

}  // namespace

void print_work_order(const Inspection& r, const std::filesystem::path& folder, std::ostream& out) {
  if (report::has_work_order(r)) out << "Work order  " << (folder / "work-order.html").string() << "\n";
}

int exit_code(Conformity overall, const std::string& fail_on) {
  if (fail_on.empty() || overall == Conformity::conforming) return 0;
  // What could not be measured is undecided as well.
  return overall == Conformity::nonconforming || fail_on == "undecided" ? 3 : 0;
}

void write_report_of(const Inspection& result, const Progress& progress, const FileSet& besides,
                     const std::string& rows_sha256, bool baseline) {
  report_progress(progress, "report", 0);
  auto files = report::report_files(result);
  files.insert(files.end(), besides.begin(), besides.end());
  report_progress(progress, "report", 0.9);
  end_interrupts();
  auto gone = stale_rechecks(result, rows_sha256, baseline);
  for (const auto& [name, text] : files) std::erase(gone, name);
  report::write_report(files, result.job.output, gone);
}

void refuse_unstored(const Recorded& r) {
  if (!r.not_stored.empty())
    throw Error(Fault::input, r.not_stored + "; the report is written all the same: " +
                                  (r.found.job.output / "report.html").string());
}

void end_in_doubt(const Inspection& r, const std::string& page) {
  // What an earlier run has diagnosed is not of these scans; its re-checks went with the report.
  std::vector<std::string> gone;
  for (const char* extension : {".html", ".json"})
    if (std::filesystem::exists(r.job.output / (page + extension))) gone.push_back(page + extension);
  for (const std::string& name : report::foreign_files(r.job.output, gone)) std::erase(gone, name);
  if (!gone.empty()) report::write_set(r.job.output, {}, gone);
  throw Error(Fault::measurement,
              say(r.verdict.headline, {r.job.units}) + " Report: " + (r.job.output / "report.html").string());
}

namespace {

/// Only what can be said before a scan is read; the first fault ends it.
int check_jobs(const std::vector<std::filesystem::path>& files) {
  for (const auto& file : files) {
    const Job job = job::read_job(file);
    pipeline::validate(job);
    report::refuse_foreign(job.output, report::report_names(job.output));
    std::cout << file.string() << ": nothing wrong with it before the scans are read";
    if (!job.unconfirmed.empty()) std::cout << "; " << job.unconfirmed.size() << " of its entries are guesses: ";
    for (const auto& u : job.unconfirmed) std::cout << (&u == &job.unconfirmed.front() ? "" : ", ") << u.key;
    std::cout << "\n";
  }
  return 0;
}

}  // namespace

int run_inspect(const InspectArguments& arguments) {
  if (arguments.check) return check_jobs(arguments.many.jobs);
  if (many_asked(arguments.many)) {
    if (!arguments.expects.empty())
      throw Error(Fault::input, "--expects: speaks of one job; inspect that job by itself");
    ManyJobs all{arguments.many,    false, arguments.record, arguments.output,
                 arguments.fail_on, "",    arguments.json,   arguments.quiet};
    return run_many(all);
  }
  Job job = job::read_job(arguments.many.jobs.at(0));
  if (!arguments.output.empty()) job.output = arguments.output;
  pipeline::validate(job);
  report::refuse_foreign(job.output, report::report_names(job.output));
  std::optional<Prediction> expected;  // read before the measurement, which may take minutes
  if (!arguments.expects.empty()) expected = read_prediction(arguments.expects, job);
  const Progress progress = terminal_progress(arguments.quiet);
  // A job that names a history is kept in it; then it is measured on the sheet of the tool's baseline.
  const bool record = arguments.record || !job.history.file.empty();
  Recorded recorded;
  if (record)
    recorded = pipeline::inspect_into_history(job, false, progress);
  else
    recorded.found = pipeline::inspect(job, progress);
  Inspection& result = recorded.found;
  if (expected) pipeline::test_prediction(*expected, result);
  write_report_of(result, progress, {}, "", recorded.baseline);
  clear_progress();
  refuse_unstored(recorded);
  if (arguments.json) {
    std::cout << report::result_json(result) << "\n";
  } else if (!arguments.quiet) {
    std::ostringstream summary;
    print_summary(result, result.job.output, summary);
    std::cout << broken_at(summary.str(), terminal_columns());
  }
  std::cout.flush();
  if (result.doubt && (arguments.json || arguments.quiet))
    std::cerr << "gapfront: " << say(result.verdict.headline, {job.units}) << "\n";
  if (result.doubt) return 2;
  if (expected && pipeline::of_same_scans(*expected, result)) {
    if (arguments.json || arguments.quiet)
      std::cerr << "gapfront: --expects: " << say(result.expected_says, {job.units}) << "\n";
    return 1;
  }
  return exit_code(result.verdict.overall, arguments.fail_on);
}

}  // namespace gapfront::cli
