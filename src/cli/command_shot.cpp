// A logged shot: was it normal for this tool, and if not, why.
#include <algorithm>
#include <cmath>
#include <iostream>
#include <limits>
#include <sstream>

#include "cli/commands.hpp"
#include "cli/terminal.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/report.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

/// "NAME=85s", of a single vent "85s"; "never".
VentSeen vent_seen(const std::string& text, const Job& job) {
  const auto equals = text.rfind('=');
  if (equals == std::string::npos && job.flow.vents.size() != 1)
    throw Error(Fault::input, "--vent " + text + ": the job has several vents; give NAME=TIME, e.g. \"" +
                                  (job.flow.vents.empty() ? std::string("V1") : job.flow.vents[0].name) + "=85s\"");
  VentSeen out{equals == std::string::npos ? job.flow.vents[0].name : text.substr(0, equals), 0};
  if (std::none_of(job.flow.vents.begin(), job.flow.vents.end(), [&](const Vent& v) { return v.name == out.vent; })) {
    std::string names;
    for (const Vent& v : job.flow.vents) names += (names.empty() ? "\"" : ", \"") + v.name + "\"";
    throw Error(Fault::input, "--vent " + text + ": the job has no vent \"" + out.vent +
                                  "\"; give one of its [flow] vents: " + names);
  }
  const std::string time = equals == std::string::npos ? text : text.substr(equals + 1);
  out.time = time == "never" ? std::numeric_limits<double>::infinity()
                             : parse_quantity(time, Dimension::time, "--vent " + text);
  if (!(out.time > 0))
    throw Error(Fault::input, "--vent " + text +
                                  ": resin cannot come at or before the start; give the time since the "
                                  "pump was started, e.g. \"" +
                                  out.vent + "=85s\", or never");
  return out;
}

std::string in_percent_of(double x) { return words("%.0f %%", 100 * x); }

std::string factor_words(const ShotEstimate& e) { return words("%.2f (%.2f – %.2f)", e.value, e.low, e.high); }

/// What is less likely than this is not worth a line.
constexpr double kLikelyEnough = 0.02;

void print_shot(const Measured& m, const ShotFound& f, const std::filesystem::path& page) {
  std::ostringstream out;
  const Voice v{m.job.units};
  out << bold(say(f.headline, v), styled_terminal()) << "\n";
  for (const Message& check : f.check) out << "Check       " << say(check, v) << "\n";
  out << "\nShot        " << format_volume(f.volume, v.units) << " in " << format_time(f.duration)
      << "; the cavity takes " << format_volume(f.cavity, v.units) << " by the model\n";
  for (const ShotCandidate& c : f.causes)
    if (c.probability >= kLikelyEnough &&
        f.verdict != ShotVerdict::unexplained)  // a share of what all miss says nothing
      out << words("%-12s", parts_percent(c.probability).c_str()) << say(c.what, v) << "\n";
  const auto when = [](double t) { return std::isfinite(t) ? format_time(t) : std::string("not within the log"); };
  for (const ShotVent& vent : f.vents)
    out << "Vent        " << vent.name << ": " << when(vent.seen) << "; predicted " << when(vent.predicted)
        << ", with the likely cause " << when(vent.explained) << "\n";
  if (f.resistance_holds()) {
    out << "Resistance  " << factor_words(f.resistance) << " times the job's; a normal shot "
        << words("%.2f – %.2f", f.normal_low, f.normal_high) << ", of "
        << (f.rests_on_earlier() ? std::to_string(f.earlier) + " earlier shots" : std::string("the job's spreads"))
        << "\nFitted      permeability " << factor_words(f.permeability) << ", viscosity " << factor_words(f.viscosity);
    if (f.leak_holds())
      out << ", leak " << in_percent_of(f.leak.value) << " (" << in_percent_of(f.leak.low) << " – "
          << in_percent_of(f.leak.high) << ")";
    out << "\n";
  }
  out << "\n" << f.fillings << " fillings were computed.\nReport      " << page.string() << "\n";
  std::cout << broken_at(out.str(), terminal_columns());
}

}  // namespace

int run_shot(const ShotArguments& arguments) {
  Job job = job::read_job(arguments.job);
  if (!arguments.output.empty()) job.output = arguments.output;
  ShotLog log = pipeline::read_shot_log(arguments.log);
  for (const std::string& text : arguments.vents) log.vents.push_back(vent_seen(text, job));
  if (!arguments.viscosity.empty()) {
    log.viscosity = parse_quantity(arguments.viscosity, Dimension::viscosity, "--viscosity");
    if (!(log.viscosity > 0)) throw Error(Fault::input, "--viscosity: must be greater than nothing, e.g. 0.25Pa.s");
  }
  diagnosis::check_log(log, job.flow);
  const bool keeps = arguments.record || !job.history.file.empty();
  const auto earlier = keeps ? pipeline::normal_shots(job, log) : std::vector<double>{};
  pipeline::validate(job);
  report::refuse_foreign(job.output, {"shot.json", "shot.html"});
  const Progress progress = terminal_progress(arguments.quiet);
  const Measured measured = pipeline::measure(job, progress);
  const ShotFound found = pipeline::judge_shot(measured, log, earlier, progress);
  const std::string json = report::shot_json(measured, log, found);
  const auto files = report::page_files(json, "shot");
  end_interrupts();
  report::write_set(job.output, files);
  if (keeps) pipeline::keep_shot(measured, log, found);
  clear_progress();
  if (arguments.json)
    std::cout << json;
  else if (!arguments.quiet)
    print_shot(measured, found, job.output / "shot.html");
  return 0;
}

}  // namespace gapfront::cli
