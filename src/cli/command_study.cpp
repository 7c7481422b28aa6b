// gapfront study: one mold, measured once, filled in several ways.
#include <algorithm>
#include <atomic>
#include <cmath>
#include <fstream>
#include <iostream>
#include <iterator>
#include <mutex>
#include <sstream>

#include "cli/commands.hpp"
#include "cli/terminal.hpp"
#include "core/parallel.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/report.hpp"
#include "gapfront/study.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;

std::string name_of_alternative(const Alternative& a) {
  std::string out;
  for (const std::string& name : a.names)
    if (!name.empty()) out += (out.empty() ? "" : ", ") + name;
  return out;
}

/// What an earlier run has computed of the same alternatives.
void take_over(Study& study, const Study& earlier, const std::vector<std::string>& keys) {
  for (std::size_t k = 0; k < keys.size(); ++k) {
    const auto same = std::find_if(earlier.fills.begin(), earlier.fills.end(), [&](const StudiedFill& f) {
      return f.key == keys[k] && f.arrival.size() == study.mesh.points.size() && !std::isnan(f.gelled_area);
    });
    if (same != earlier.fills.end()) study.fills[k] = *same;
  }
}

/// Each alternative that is not there yet, several at a time; after each, all that is there is written.
void fill_all(const Alternatives& plan, const Measured& measured, const fs::path& file, Study& study,
              const Progress& progress) {
  std::vector<std::size_t> open;
  for (std::size_t k = 0; k < study.fills.size(); ++k)
    if (study.fills[k].key.empty()) open.push_back(k);
  std::mutex guard;
  std::atomic<bool> stop{false};
  std::size_t done = study.fills.size() - open.size();
  parallel_for(
      open.size(),
      [&](std::size_t i) {
        const Progress heard = [&](std::string_view, double) { return !stop.load(); };
        StudiedFill found;
        try {
          found = pipeline::study_fill(measured, plan.all[open[i]], heard);
        } catch (const Error& e) {
          stop = true;
          throw e.fault == Fault::cancelled
              ? e
              : Error(e.fault, plan.file.string() + ": " + name_of_alternative(plan.all[open[i]]) + ": " + e.what());
        }
        const std::lock_guard lock(guard);
        study.fills[open[i]] = std::move(found);
        report::write_file(file, report::study_json(plan, study));
        try {
          report_progress(progress, "alternatives", double(++done) / double(study.fills.size()));
        } catch (const Error&) {
          stop = true;
          throw;
        }
      },
      1);
}

void print_study(const Alternatives& plan, const Study& study, const fs::path& page, std::ostream& out) {
  const auto best = pipeline::not_beaten(study.fills);
  const auto good = static_cast<long>(std::count(best.begin(), best.end(), true));
  const auto all = static_cast<long>(study.fills.size());
  const bool some = std::any_of(study.fills.begin(), study.fills.end(), [](const StudiedFill& f) { return f.gels(); });
  out << bold(say(pipeline::all_gel(study.fills)
                      ? Message("study.all-gel")
                      : Message(some ? "study.result-beside-gelled" : "study.result", {good, all})),
              styled_terminal())
      << "\n"
      << plan.job.name << "\n";
  if (pipeline::none_fills(study.fills, plan.job.ensemble.min_dry)) out << say(Message("study.none-fills")) << "\n";
  out << "\n";
  for (std::size_t k = 0; k < study.fills.size(); ++k) {
    const StudiedFill& f = study.fills[k];
    out << words("%-3zu %-6s  ", k + 1, best[k] ? "best" : "") << name_of_alternative(plan.all[k]) << ": filled in "
        << time_in_fill(f.fill_time, f.fill_time);
    if (f.dry_area > 0) out << " but for " << format_area(f.dry_area, plan.job.units) << " that stays dry";
    if (f.air.draws > 0) out << ", traps air in " << words("%.0f %%", 100 * f.air.p) << " of the drawn fillings";
    out << ", closing over opening force " << words("%.2f", f.balance);
    if (f.gels())
      out << "; the resin gels after " << time_in_fill(f.gel_time, f.gel_time)
          << ", before it is full: " << format_area(f.gelled_area, plan.job.units) << " is reached too late or never";
    out << "\n";
  }
  out << "\nReport      " << page.string() << "\n";
}

}  // namespace

int run_study(const StudyArguments& arguments) {
  Alternatives plan = job::read_alternatives(arguments.file);
  if (!arguments.language.empty()) plan.job.language = arguments.language;
  const fs::path folder = arguments.output.empty() ? fs::path("reports") / arguments.file.stem() : arguments.output;
  plan.job.output = folder;
  pipeline::validate(plan.job);
  for (Alternative& a : plan.all) {
    a.job.output = folder;
    pipeline::validate(a.job);
  }
  const Progress progress = terminal_progress(arguments.quiet);
  const Measured measured = pipeline::measure(plan.job, progress);
  if (measured.doubt) throw Error(Fault::measurement, say(measured.verdict.headline, {plan.job.units}));
  Study study;
  study.mesh = measured.sheet.mesh;
  study.fills.resize(plan.all.size());
  std::vector<std::string> keys;
  for (const Alternative& a : plan.all) keys.push_back(pipeline::study_key(a, measured));
  const fs::path file = folder / "study.json", page = folder / "study.html";
  if (std::ifstream in(file, std::ios::binary); in && !arguments.again)
    take_over(study, report::read_study({std::istreambuf_iterator<char>(in), {}}), keys);
  fs::create_directories(folder);
  fill_all(plan, measured, file, study, progress);
  end_interrupts();
  report::write_file(file, report::study_json(plan, study));
  report::write_file(page, report::study_html(plan, study));
  clear_progress();
  if (arguments.quiet) return 0;
  std::ostringstream out;
  print_study(plan, study, page, out);
  std::cout << broken_at(out.str(), terminal_columns());
  return 0;
}

}  // namespace gapfront::cli
