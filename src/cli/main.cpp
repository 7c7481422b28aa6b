#include <CLI/CLI.hpp>
#include <algorithm>
#include <iostream>

#include "cli/commands.hpp"
#include "gapfront/error.hpp"
#include "gapfront/job.hpp"
#include "units/nearest.hpp"

namespace {

constexpr const char* footer = R"(Exit codes
  0  done
  1  bad usage, job file or scan file
  2  the halves could not be registered or measured
  3  with --fail-on: the part of the tool is not proven good
     (--fail-on nonconforming: provably outside its limits; --fail-on undecided: that, or not decided)
  130  stopped with Ctrl-C; nothing is written

A first run
  gapfront look lower.ply upper.ply        what is in the scans
  gapfront new lower.ply upper.ply         writes job.toml, with notes
  gapfront inspect job.toml                measures, and writes the report)";

std::string one_line(std::string s) {
  while (!s.empty() && (s.back() == '\n' || s.back() == ' ')) s.pop_back();
  for (char& c : s)
    if (c == '\n' || c == '\r') c = ' ';
  return s;
}

/// What is wrong with a command or an option that nobody knows, with the nearest one that there is; empty: nothing is.
std::string mistyped(const CLI::App& app, int argc, char** argv) {
  const auto names = [](const CLI::App& of) {
    std::vector<std::string> out;
    for (const auto* option : of.get_options())
      for (const auto& name : option->get_lnames()) out.push_back("--" + name);
    return out;
  };
  const CLI::App* command = nullptr;
  for (int k = 1; k < argc; ++k) {
    const std::string word = argv[k], name = word.substr(0, word.find('='));
    if (word.starts_with("--") && word.size() > 2) {
      const auto known = names(command ? *command : app);
      const std::string near = gapfront::nearest_word(name, known);
      if (std::find(known.begin(), known.end(), name) == known.end())
        return "unknown option " + name + (near.empty() ? "" : "; did you mean " + near + "?") + "; see gapfront " +
               (command ? command->get_name() + " " : "") + "--help";
    } else if (!command && !word.starts_with("-")) {
      std::vector<std::string> known;
      for (const auto* c : app.get_subcommands([](const CLI::App*) { return true; })) {
        known.push_back(c->get_name());
        if (c->get_name() == word) command = c;
      }
      if (!command) return "unknown command \"" + word + "\"; " + gapfront::suggestion(word, known);
    }
    if (word == "--") break;
  }
  return "";
}

int complain(const std::string& line, int code) {
  gapfront::cli::clear_progress();
  std::cerr << "gapfront: " << one_line(line) << "\n";
  return code;
}

}  // namespace

int main(int argc, char** argv) {
  using namespace gapfront;
  CLI::App app(
      "Measures the gap between the two halves of a closed mold from their scans, says whether it is within\n"
      "tolerance, where the resin front will run ahead, and what to shim, build up or relieve.",
      "gapfront");
  app.footer(footer);
  app.set_version_flag("--version", "gapfront " GAPFRONT_VERSION);
  app.require_subcommand(1);

  cli::InspectArguments inspect;
  auto* inspect_command =
      app.add_subcommand("inspect", "Measure a mold: two scans and a job file in, verdict and report out");
  inspect_command->add_option("JOB", inspect.job, "The job file (TOML)")->required();
  inspect_command
      ->add_option("--output", inspect.output, "Folder for the report (default: as in the job file, or reports/JOB)")
      ->type_name("DIR");
  inspect_command->add_flag("--json", inspect.json, "Print result.json instead of the summary");
  inspect_command->add_flag("--quiet", inspect.quiet, "Print no progress and no summary");
  inspect_command->add_option("--fail-on", inspect.fail_on, "Exit with 3 on this verdict: nonconforming or undecided")
      ->check(CLI::IsMember({"nonconforming", "undecided"}))
      ->type_name("VERDICT");

  inspect_command
      ->add_option("--expects", inspect.expects,
                   "After the work: the result.json whose corrections were carried out; says whether they did what it "
                   "predicted")
      ->type_name("RESULT");
  inspect_command->add_flag("--record", inspect.record,
                            "Keep the result in the tool's history (always done when the job has [history])");

  cli::RecheckArguments recheck;
  auto* recheck_command =
      app.add_subcommand("recheck", "Inspect a tool again, and say what has worn since and how long it lasts");
  recheck_command->add_option("JOB", recheck.job, "The job file of the new scans (TOML)")->required();
  recheck_command->add_option("--against", recheck.against, "Compare with this date, or: baseline (default: baseline)")
      ->type_name("DATE");
  recheck_command->add_flag("--new-baseline", recheck.new_baseline,
                            "After work on the tool: later re-checks compare with this one");
  recheck_command->add_option("--output", recheck.output, "Folder for the report")->type_name("DIR");
  recheck_command->add_flag("--json", recheck.json, "Print the result as JSON");
  recheck_command->add_flag("--quiet", recheck.quiet, "Print no progress and no summary");

  cli::HistoryArguments history;
  auto* history_command = app.add_subcommand("history", "List, show, export or check what is kept of a tool");
  history_command->add_option("TOOL", history.tool, "The history file, or the tool's name")->required();
  auto* show = history_command->add_option("--show", history.show, "Show this inspection")->type_name("ID");
  auto* csv = history_command->add_flag("--csv", history.csv, "Print one row per inspection as CSV")->excludes(show);
  history_command->add_flag("--check", history.check, "Check that the file is sound")->excludes(show)->excludes(csv);

  cli::DiagnoseArguments diagnose;
  auto* diagnose_command = app.add_subcommand("diagnose", "Say what makes a dry spot that recurs, and what cures it");
  diagnose_command->add_option("JOB", diagnose.job, "The job file (TOML)")->required();
  diagnose_command
      ->add_option("--spot", diagnose.spots, "Where it is, on the lower face in tool coordinates; repeatable")
      ->required()
      ->allow_extra_args(false)
      ->type_name("X,Y,Z");
  diagnose_command->add_option("--size", diagnose.sizes, "How wide it is (default: 40mm)")
      ->allow_extra_args(false)
      ->type_name("LENGTH");
  diagnose_command->add_option("--seen", diagnose.seen, "In how many of how many parts it was seen, e.g. 9/10")
      ->allow_extra_args(false)
      ->type_name("N/M");
  diagnose_command
      ->add_option("--cured-below", diagnose.cured_below, "A spot in fewer of the parts counts as cured (default: 5%)")
      ->type_name("SHARE");
  diagnose_command->add_option("--output", diagnose.output, "Folder for the report")->type_name("DIR");
  diagnose_command->add_flag("--json", diagnose.json, "Print the result as JSON");
  diagnose_command->add_flag("--quiet", diagnose.quiet, "Print no progress and no summary");

  cli::LookArguments look;
  auto* look_command =
      app.add_subcommand("look", "Say what is in a scan: points, size, likely unit, spacing, noise, holes");
  look_command->add_option("FILE", look.files, "Scan files (PLY, PCD, STL, OBJ, XYZ, CSV…)")->required();
  look_command->add_option("--unit", look.unit, "Unit of the coordinates in the files: mm, cm, m, in, thou")
      ->type_name("UNIT");
  look_command->add_flag("--json", look.json, "Print as JSON");

  cli::NewArguments fresh;
  auto* new_command = app.add_subcommand("new", "Write an annotated job file for two scans");
  new_command->add_option("LOWER", fresh.lower, "Scan of the lower half")->required();
  new_command->add_option("UPPER", fresh.upper, "Scan of the upper half")->required();
  new_command->add_option("-o,--output", fresh.output, "Job file to write (default: job.toml)")->type_name("FILE");
  new_command->add_flag("--force", fresh.force, "Replace the file if it exists");

  cli::ReportArguments again;
  auto* report_command = app.add_subcommand(
      "report", "Make a page again from result.json, recheck.json or diagnosis.json, without computing anything");
  report_command->add_option("RESULT", again.result, "The JSON file, or the folder of result.json")->required();
  report_command->add_option("-o,--output", again.output, "Page to write (default: the page beside it)")
      ->type_name("FILE");
  report_command->add_flag("--pdf", again.pdf, "Print it to PDF as well, with an installed Chromium");
  report_command->add_option("--lang", again.language, "Language of the page: en, de, fr, es, pt (default: the job's)")
      ->check(CLI::IsMember(std::vector<std::string>(languages.begin(), languages.end())))
      ->type_name("LANGUAGE");
  std::string schema;
  auto* schema_command = app.add_subcommand("schema", "Print the JSON Schema of a result file or of the job file");
  schema_command->add_option("WHAT", schema, "result, recheck, diagnosis or job")
      ->required()
      ->check(CLI::IsMember({"result", "recheck", "diagnosis", "job"}));
  bool reinforcements_json = false;
  auto* reinforcements_command = app.add_subcommand(
      "glasses", "List the built-in reinforcements, each number with its uncertainty and its source");
  reinforcements_command->add_flag("--json", reinforcements_json, "Print as JSON");
  auto* fields_command = app.add_subcommand("fields", "List the fields of sheet.ply, sheet.vtu and result.json");

  if (const std::string fault = mistyped(app, argc, argv); !fault.empty()) return complain(fault, 1);
  try {
    app.parse(argc, argv);
    if (*inspect_command) return cli::run_inspect(inspect);
    if (*recheck_command) return cli::run_recheck(recheck);
    if (*diagnose_command) return cli::run_diagnose(diagnose);
    if (*history_command) return cli::run_history(history);
    if (*look_command) return cli::run_look(look);
    if (*report_command) return cli::run_report(again);
    if (*schema_command) return cli::run_schema(schema);
    if (*reinforcements_command) return cli::run_reinforcements(reinforcements_json);
    if (*fields_command) return cli::run_fields();
    return cli::run_new(fresh);
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == 0) return app.exit(e);  // --help and --version
    return complain(one_line(e.what()) + "; see gapfront --help", 1);
  } catch (const Error& e) {
    switch (e.fault) {
      case Fault::input:
        return complain(e.what(), 1);
      case Fault::measurement:
        return complain(e.what(), 2);
      case Fault::cancelled:
        return complain(e.what(), 130);
    }
  } catch (const std::bad_alloc&) {
    return complain("not enough memory for these scans; thin them out, or use a machine with more", 1);
  } catch (const std::exception& e) {
    return complain(std::string("unexpected: ") + e.what(), 1);
  }
  return 1;
}
