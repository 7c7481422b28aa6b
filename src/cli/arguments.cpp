#include "cli/arguments.hpp"

#include <memory>
#include <string>

#include "cli/commands.hpp"
#include "cli/manual.hpp"
#include "gapfront/job.hpp"

namespace gapfront::cli {
namespace {

// The headings under which --help lists the commands.
constexpr const char* kMeasure = "Measure a mold";
constexpr const char* kLater = "Later: wear, and dry spots that come back";
constexpr const char* kResults = "Results, and what stands in the files";
constexpr const char* kProof = "For a qualification record";
constexpr const char* kManual = "This program";

/// `says` names the language where none is given.
void add_language(CLI::App* command, std::string& language, const char* says) {
  command->add_option("--lang", language, says)
      ->check(CLI::IsMember(std::vector<std::string>(languages.begin(), languages.end())))
      ->type_name("LANGUAGE");
}

void add_many(CLI::App* command, ManyArguments& many) {
  command
      ->add_option("--at-once", many.at_once,
                   "Of many jobs, run so many at the same time (default: as many as cores and memory allow)")
      ->check(CLI::Range(1, 1024))
      ->type_name("N");
  command->add_flag("--again", many.again,
                    "Of many jobs, run those too whose report is of the same job file, scans and program");
}

Command add_inspect(CLI::App& app) {
  const auto a = std::make_shared<InspectArguments>();
  auto* command = app.add_subcommand("inspect", "Measure a mold: two scans and a job file in, verdict and report out");
  command->add_option("JOB", a->many.jobs, "The job file (TOML); of several, those that are not finished are run")
      ->required();
  command
      ->add_option("-o,--output", a->output,
                   "Folder for the report, of several jobs DIR/JOB (default: as in the job file, or reports/JOB)")
      ->type_name("DIR");
  command->add_flag("--json", a->json, "Print result.json instead of the summary; of several jobs a line of JSON each");
  command->add_flag("--quiet", a->quiet, "Print no progress and no summary");
  command->add_option("--fail-on", a->fail_on, "Exit with 3 on this verdict: nonconforming or undecided")
      ->check(CLI::IsMember({"nonconforming", "undecided"}))
      ->type_name("VERDICT");
  command
      ->add_option("--expects", a->expects,
                   "After the work: the result.json whose corrections were carried out; says whether they did what it "
                   "predicted")
      ->type_name("RESULT");
  command->add_flag("--check", a->check, "Only say what is wrong with the job file, before any scan is read");
  command->add_flag("--record", a->record,
                    "Keep the result in the tool's history (always done when the job has [history])");
  add_many(command, a->many);
  command->group(kMeasure);
  return {command,
          [a] { return run_inspect(*a); },
          {"gapfront inspect my.toml --fail-on undecided",
           "Writes reports/my/report.html and the data files beside it; exit code 3 unless the tool is proven good."},
          {0, 1, 2, 3, 130}};
}

Command add_recheck(CLI::App& app) {
  const auto a = std::make_shared<RecheckArguments>();
  auto* command =
      app.add_subcommand("recheck", "Inspect a tool again, and say what has worn since and how long it lasts");
  command->add_option("JOB", a->many.jobs, "The job file of the new scans (TOML); or several")->required();
  command->add_option("--against", a->against, "Compare with this date, or: baseline (default: baseline)")
      ->type_name("DATE");
  command->add_flag("--new-baseline", a->new_baseline, "After work on the tool: later re-checks compare with this one");
  command->add_option("-o,--output", a->output, "Folder for the report; of several jobs DIR/JOB")->type_name("DIR");
  command->add_flag("--json", a->json, "Print the result as JSON; of several jobs a line of JSON each");
  command->add_flag("--quiet", a->quiet, "Print no progress and no summary");
  add_many(command, a->many);
  command->group(kLater);
  return {command,
          [a] { return run_recheck(*a); },
          {"gapfront recheck later.toml",
           "Compares with the first inspection kept of the tool, and writes recheck.html beside the report."},
          {0, 1, 2, 130}};
}

Command add_history(CLI::App& app) {
  const auto a = std::make_shared<HistoryArguments>();
  auto* command = app.add_subcommand("history", "List, show, export, check or remove what is kept of a tool");
  command->add_option("TOOL", a->tool, "The history file, or the tool's name")->required();
  auto* show = command->add_option("--show", a->show, "Show this inspection")->type_name("ID");
  auto* csv = command->add_flag("--csv", a->csv, "Print one row per inspection as CSV")->excludes(show);
  auto* check = command->add_flag("--check", a->check, "Check that the file is sound")->excludes(show)->excludes(csv);
  command->add_option("--remove", a->remove, "Take this inspection out, given by id or date; a baseline only alone")
      ->type_name("ID")
      ->excludes(show)
      ->excludes(csv)
      ->excludes(check);
  command->group(kLater);
  return {
      command,
      [a] { return run_history(*a); },
      {"gapfront history HC-7 --csv > HC-7.csv", "Writes a row per inspection of the tool HC-7, for a spreadsheet."},
      {0, 1}};
}

Command add_fleet(CLI::App& app) {
  const auto a = std::make_shared<FleetArguments>();
  auto* command =
      app.add_subcommand("fleet", "Put all tools on one page: verdict, chance of dry spots, wear, next check");
  command->add_option("DIR", a->folder, "Where their histories and reports are, in it or below")->required();
  command->add_option("-o,--output", a->output, "Page to write, with a table beside it (default: DIR/fleet.html, .csv)")
      ->type_name("FILE");
  add_language(command, a->language, "Language of the page (default: the jobs')");
  command->add_option("--day", a->day, "What is due is due on this day, year-month-day (default: today)")
      ->type_name("DATE");
  command->group(kLater);
  return {command,
          [a] { return run_fleet(*a); },
          {"gapfront fleet reports", "Writes reports/fleet.html, the tool most at risk first, and reports/fleet.csv."},
          {0, 1}};
}

Command add_diagnose(CLI::App& app) {
  const auto a = std::make_shared<DiagnoseArguments>();
  auto* command = app.add_subcommand("diagnose", "Say what makes a dry spot that recurs, and what cures it");
  command->add_option("JOB", a->job, "The job file (TOML)")->required();
  command->add_option("--spot", a->spots, "Where it is, on the lower face in tool coordinates; repeatable")
      ->required()
      ->allow_extra_args(false)
      ->type_name("X,Y,Z");
  command->add_option("--size", a->sizes, "How wide it is (default: 40mm)")
      ->allow_extra_args(false)
      ->type_name("LENGTH");
  command->add_option("--seen", a->seen, "In how many of how many parts it was seen, e.g. 9/10")
      ->allow_extra_args(false)
      ->type_name("N/M");
  command->add_option("--cured-below", a->cured_below, "A spot in fewer of the parts counts as cured (default: 5%)")
      ->type_name("SHARE");
  command->add_option("-o,--output", a->output, "Folder for the report")->type_name("DIR");
  command->add_flag("--json", a->json, "Print the result as JSON");
  command->add_flag("--quiet", a->quiet, "Print no progress and no summary");
  command->group(kLater);
  return {command,
          [a] { return run_diagnose(*a); },
          {"gapfront diagnose my.toml --spot 150,90,-40 --size 40mm --seen 9/10",
           "Looks for what makes a dry spot there that 9 of 10 parts have, and writes diagnosis.html."},
          {0, 1, 2, 130}};
}

Command add_shot(CLI::App& app) {
  const auto a = std::make_shared<ShotArguments>();
  auto* command = app.add_subcommand("shot", "Say from a machine's log whether a shot was normal, and if not, why");
  command->add_option("JOB", a->job, "The job file (TOML)")->required();
  command->add_option("LOG", a->log, "Time, pressure at the inlet, and volume or rate, in columns with a header (CSV)")
      ->required();
  command
      ->add_option("--vent", a->vents,
                   "When resin was seen at a vent, or: never; of one vent the time alone; repeatable")
      ->allow_extra_args(false)
      ->type_name("NAME=TIME");
  command->add_option("--viscosity", a->viscosity, "Of this shot's resin, as measured")->type_name("VISCOSITY");
  command->add_option("-o,--output", a->output, "Folder for the page")->type_name("DIR");
  command->add_flag("--record", a->record,
                    "Keep the shot in the tool's history (always done when the job has [history])");
  command->add_flag("--json", a->json, "Print the result as JSON");
  command->add_flag("--quiet", a->quiet, "Print no progress and no summary");
  command->group(kLater);
  return {command,
          [a] { return run_shot(*a); },
          {"gapfront shot my.toml monday.csv --vent V1=85s",
           "Compares the log with the model, names the likely cause where it differs, and writes shot.html."},
          {0, 1, 2, 130}};
}

Command add_look(CLI::App& app) {
  const auto a = std::make_shared<LookArguments>();
  auto* command = app.add_subcommand("look", "Say what is in a scan: points, size, likely unit, spacing, noise, holes");
  command->add_option("FILE", a->files, "Scan files (PLY, PCD, STL, OBJ, E57, XYZ, CSV…)")->required();
  command->add_option("--unit", a->unit, "Unit of the coordinates in the files: mm, cm, m, in, thou")
      ->type_name("UNIT");
  command->add_flag("--json", a->json, "Print as JSON");
  command->group(kMeasure);
  return {command,
          [a] { return run_look(*a); },
          {"gapfront look lower.ply upper.ply",
           "Tells what is in both scans, whether they close, and where the seal line may run."},
          {0, 1, 130}};
}

Command add_instrument(CLI::App& app) {
  const auto a = std::make_shared<InstrumentArguments>();
  auto* command = app.add_subcommand(
      "instrument", "Judge a scanner by a check measurement: what [instrument] of a job file should say of it");
  command
      ->add_option("CHECK", a->file,
                   "Columns kind,reference,measured (CSV): a length and its calibrated value, the range on a sphere, "
                   "the range on a flat and its length, a step between two passes over one place")
      ->required();
  command->add_option("--unit", a->unit, "Unit of the lengths in the file: mm, cm, m, in, thou (default: mm)")
      ->type_name("UNIT");
  command->add_flag("--json", a->json, "Print as JSON");
  command->group(kMeasure);
  return {command,
          [a] { return run_instrument(*a); },
          {"gapfront instrument check.csv >> my.toml",
           "Adds the [instrument] section that the check measurement makes; what is known badly stands as a remark."},
          {0, 1}};
}

Command add_new(CLI::App& app) {
  const auto a = std::make_shared<NewArguments>();
  auto* command = app.add_subcommand("new", "Write a job file for two scans, and a page to set it up on");
  command->add_option("LOWER", a->lower, "Scan of the lower half");
  command->add_option("UPPER", a->upper, "Scan of the upper half");
  command->add_option("--edit", a->edit, "Instead of two scans: write the page for this job, which is left as it is")
      ->type_name("JOB");
  command->add_option("-o,--output", a->output, "Job file to write (default: job.toml)")->type_name("FILE");
  command->add_flag("--force", a->force, "Replace the file if it exists");
  add_language(command, a->language, "Language of the page (default: the job's)");
  command->group(kMeasure);
  return {command,
          [a] { return run_new(*a); },
          {"gapfront new lower.ply upper.ply -o my.toml",
           "Writes my.toml with what the two scans tell, and my.setup.html, a page on which to point at the rest."},
          {0, 1, 130}};
}

Command add_study(CLI::App& app) {
  const auto a = std::make_shared<StudyArguments>();
  auto* command = app.add_subcommand("study", "Fill one mold in several ways: vents, stacks, rates, side by side");
  command->add_option("STUDY", a->file, "The study file (TOML): the job, and groups of settings to be replaced")
      ->required();
  command->add_option("-o,--output", a->output, "Folder for study.html and study.json (default: reports/STUDY)")
      ->type_name("DIR");
  add_language(command, a->language, "Language of the page (default: the job's)");
  command->add_flag("--again", a->again, "Compute those again that are finished");
  command->add_flag("--quiet", a->quiet, "Print no progress and no summary");
  command->group(kMeasure);
  return {command,
          [a] { return run_study(*a); },
          {"gapfront study vents.toml",
           "Measures the mold once, fills it with every combination that vents.toml names, and writes "
           "reports/vents/study.html; a run that was stopped goes on where it was."},
          {0, 1, 2, 130}};
}

Command add_report(CLI::App& app) {
  const auto a = std::make_shared<ReportArguments>();
  auto* command = app.add_subcommand(
      "report",
      "Make a page again from result.json, recheck.json, diagnosis.json or shot.json, without computing anything");
  command->add_option("RESULT", a->result, "The JSON file, or the folder of result.json")->required();
  command->add_option("-o,--output", a->output, "Page to write (default: the page beside it)")->type_name("FILE");
  command->add_flag("--pdf", a->pdf, "Print it to PDF as well, with an installed Chromium");
  command->add_flag("--film", a->film, "Write a film of both fronts as well, as animated PNG: fronts.png");
  add_language(command, a->language, "Language of the page (default: the job's)");
  command->group(kResults);
  return {command,
          [a] { return run_report(*a); },
          {"gapfront report reports/my --lang de --pdf",
           "Makes the pages of reports/my again in German, and prints them to PDF."},
          {0, 1}};
}

Command add_schema(CLI::App& app) {
  const auto what = std::make_shared<std::string>();
  auto* command = app.add_subcommand("schema", "Print the JSON Schema of a result file or of the job file");
  command->add_option("WHAT", *what, "result, recheck, diagnosis, shot or job")
      ->required()
      ->check(CLI::IsMember({"result", "recheck", "diagnosis", "shot", "job"}));
  command->group(kResults);
  return {command,
          [what] { return run_schema(*what); },
          {"gapfront schema result > result.schema.json", "For a program that reads result.json, to check it."},
          {0, 1}};
}

Command add_reinforcements(CLI::App& app) {
  const auto a = std::make_shared<ReinforcementsArguments>();
  auto* command = app.add_subcommand(
      "glasses", "List the built-in reinforcements, each number with its uncertainty and its source");
  command->add_flag("--json", a->json, "Print as JSON");
  command->add_option("--sheet", a->sheet, "Instead, write a page to print: how to measure your own in half an hour")
      ->type_name("FILE");
  add_language(command, a->language, "Language of that page (default: en)");
  command->group(kResults);
  return {command,
          [a] { return run_reinforcements(*a); },
          {"gapfront glasses", "Shows the numbers that a ply takes by its name alone."},
          {0, 1}};
}

Command add_fields(CLI::App& app) {
  auto* command = app.add_subcommand("fields", "List the fields of sheet.ply, sheet.pcd, sheet.vtu and result.json");
  command->group(kResults);
  return {
      command, run_fields, {"gapfront fields", "Shows what deviation_mm and the others mean, a line each."}, {0, 1}};
}

Command add_characteristics(CLI::App& app) {
  const auto result = std::make_shared<std::filesystem::path>();
  const auto json = std::make_shared<bool>(false);
  auto* command = app.add_subcommand(
      "characteristics", "List what was judged: place, limits, value, U and decision, as CSV for other programs");
  command->group(kResults);
  command->add_option("RESULT", *result, "result.json, or its folder")->required();
  command->add_flag("--json", *json, "Print as JSON, with version, hashes, decision rule and verdict");
  return {command,
          [result, json] { return run_characteristics(*result, *json); },
          {"gapfront characteristics reports/my > my.csv", "Writes a row per characteristic, lengths in mm."},
          {0, 1}};
}

Command add_record(CLI::App& app) {
  const auto a = std::make_shared<RecordArguments>();
  auto* command =
      app.add_subcommand("record", "Sign an inspection: its report, its data files, and what it was made of");
  command->group(kProof);
  command->add_option("DIR", a->folder, "The report folder that inspect wrote")->required();
  command->add_option("--key", a->key, "Your private key: Ed25519, PEM (openssl genpkey -algorithm ed25519)")
      ->required()
      ->type_name("FILE");
  return {command,
          [a] { return run_record(*a); },
          {"gapfront record reports/my --key my.key",
           "Writes record.json with the hashes of all files and inputs, its signature record.sig, and record.pub."},
          {0, 1}};
}

Command add_verify(CLI::App& app) {
  const auto a = std::make_shared<VerifyArguments>();
  auto* command = app.add_subcommand(
      "verify", "Say whether a signed inspection was changed, and whether its numbers come out again");
  command->group(kProof);
  command->add_option("DIR", a->folder, "The folder with record.json")->required();
  command
      ->add_option("--key", a->key, "The signer's public key, got from the signer (default: record.pub in the folder)")
      ->type_name("FILE");
  command->add_option("--job", a->job, "Compute it again from this job file and its scans, and compare every number")
      ->type_name("JOB");
  return {command,
          [a] { return run_verify(*a); },
          {"gapfront verify reports/my --key signer.pub --job my.toml",
           "Checks signature and files, inspects again, and compares; exit code 1 and a line where anything differs."},
          {0, 1, 2, 130}};
}

Command add_help(CLI::App& app, const std::shared_ptr<const Manual>& manual) {
  const auto topic = std::make_shared<std::string>();
  auto* command = app.add_subcommand("help", "Explain a topic, or a command");
  command->group(kManual);
  std::vector<std::string> known;
  std::string names;
  for (const ManualPage& page : topics()) known.push_back(topic_name(page)), names += topic_name(page) + ", ";
  for (const auto* c : app.get_subcommands([](const CLI::App*) { return true; })) known.push_back(c->get_name());
  command->add_option("TOPIC", *topic, names + "or a command; without it: what there is")->check(CLI::IsMember(known));
  return {command,
          [manual, topic] { return run_help(*manual, *topic); },
          {"gapfront help units", "Tells how quantities are written, and lists the units that are known."},
          {0, 1}};
}

Command add_manual(CLI::App& app, const std::shared_ptr<const Manual>& manual) {
  const auto folder = std::make_shared<std::filesystem::path>();
  auto* command = app.add_subcommand("manual", "Write the man pages, and the completions for bash, zsh and fish");
  command->group(kManual);
  command->add_option("DIR", *folder, "Where to: they go into share/ below it")->required();
  return {command,
          [manual, folder] { return run_manual(*manual, *folder); },
          {"gapfront manual ~/.local", "For you alone; the package has them in place for everybody."},
          {0, 1}};
}

}  // namespace

std::vector<Command> add_commands(CLI::App& app) {
  const auto manual = std::make_shared<Manual>();
  std::vector<Command> all{add_look(app),           add_instrument(app), add_new(app),
                           add_inspect(app),        add_recheck(app),    add_history(app),
                           add_fleet(app),          add_diagnose(app),   add_shot(app),
                           add_study(app),          add_report(app),     add_schema(app),
                           add_reinforcements(app), add_fields(app),     add_characteristics(app),
                           add_record(app),         add_verify(app)};
  const Command write_manual = add_manual(app, manual);
  all.push_back(add_help(app, manual));  // it knows those before
  all.push_back(write_manual);
  *manual = describe(app, all);
  return all;
}

}  // namespace gapfront::cli
