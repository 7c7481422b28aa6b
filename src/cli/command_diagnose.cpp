#include <cctype>
#include <cstdio>
#include <iostream>
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

/// On the command line a number without a unit is in the job's.
std::string with_unit(std::string text, UnitSystem units) {
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.back()))) text.pop_back();
  const bool bare = !text.empty() && (std::isdigit(static_cast<unsigned char>(text.back())) || text.back() == '.');
  return bare ? text + (units == UnitSystem::mm ? " mm" : " in") : text;
}

std::vector<DrySpot> read_spots(const DiagnoseArguments& a, UnitSystem units) {
  const auto fits = [&](const std::vector<std::string>& given, const char* option) {
    if (given.size() > 1 && given.size() != a.spots.size())
      throw Error(Fault::input, std::string(option) + ": give it once for all spots, or once for each --spot");
  };
  fits(a.sizes, "--size");
  fits(a.seen, "--seen");
  std::vector<DrySpot> out;
  for (std::size_t k = 0; k < a.spots.size(); ++k) {
    DrySpot spot;
    spot.at = parse_point(with_unit(a.spots[k], units), "--spot");
    if (!a.sizes.empty()) {
      spot.size =
          parse_quantity(with_unit(a.sizes.size() > 1 ? a.sizes[k] : a.sizes[0], units), Dimension::length, "--size");
      if (!(spot.size > 0)) throw Error(Fault::input, "--size: must be greater than nothing, e.g. 40mm");
    }
    if (!a.seen.empty()) {
      const std::string& text = a.seen.size() > 1 ? a.seen[k] : a.seen[0];
      int used = 0;
      if (std::sscanf(text.c_str(), "%9d/%9d%n", &spot.seen, &spot.parts, &used) != 2 ||
          used != static_cast<int>(text.size()) || spot.seen < 0 || spot.parts < 1 || spot.seen > spot.parts)
        throw Error(Fault::input,
                    "--seen " + text + ": give the parts with the spot of the parts looked at, e.g. 9/10");
    }
    out.push_back(spot);
  }
  return out;
}

DiagnoseOptions read_options(const DiagnoseArguments& a) {
  DiagnoseOptions o;
  if (a.cured_below.empty()) return o;
  o.cured_below = parse_quantity(a.cured_below, Dimension::fraction, "--cured-below");
  if (!(o.cured_below > 0 && o.cured_below < 1))
    throw Error(Fault::input, "--cured-below: must lie between 0 and 100 %, e.g. 5%");
  return o;
}

/// What takes away less than a tenth is no cause worth a line.
constexpr double kWorthSaying = 0.1;

std::string in_percent(double x) { return words("%.0f %%", 100 * x); }

std::string of_parts(const Chance& c) {
  return parts_percent(c.p) + " of the parts (" + in_percent(c.low) + " – " + in_percent(c.high) + ")";
}

void print_spot(const Inspection& r, const SpotDiagnosis& d, std::ostream& out) {
  out << "\n"
      << "Spot        around " << spoken_place(d.spot.at, r.job.units)
      << "\n            dry within one width of it, or reached after the gel time: " << in_percent(d.trouble)
      << " of its own area" << (d.trouble >= 1 ? " or more" : "") << " with the gap as measured, "
      << in_percent(d.nominal_trouble) << " with the nominal gap, in the one filling computed\n";
  if (d.model.draws > 0) {
    out << "Chance      " << of_parts(d.model) << " by the model, of " << d.model.draws << " drawn fillings";
    if (d.spot.parts > 0) out << "; seen in " << d.spot.seen << " of " << d.spot.parts;
    out << "\n";
    if (d.predicted)
      out << "            " << (d.spot.parts > 0 ? of_parts(d.now) + " weighted by the count, " : std::string())
          << of_parts(d.nominal) << " with the nominal gap\n";
  }
  int shown = 0;
  for (const Cause& c : d.causes) {
    if (c.relief < kWorthSaying) continue;
    out << words("Cause %-5d ", ++shown) << (c.is_gap ? c.name + ", " : "") << say(c.what, {r.job.units})
        << ": with it put right ";
    if (c.chance.draws > 0) {
      out << "the spot comes in " << of_parts(c.chance);
      if (c.chance.draws != d.model.draws) out << ", " << c.chance.draws << " drawn";
      out << "; ";
    }
    out << in_percent(c.without) << " of it is left in the one filling computed\n";
  }
  for (const Suspect& s : d.suspects)
    if (s.trouble >= kWorthSaying)
      out << "Suspect     " << say(s.what, {r.job.units}) << " would make " << in_percent(s.trouble)
          << " of it and leave " << in_percent(s.dry)
          << " of the whole sheet dry; to tell: " << say(s.measure, {r.job.units}) << "\n";
  if (!d.discriminate.empty()) out << "Tell        " << say(d.discriminate, {r.job.units}) << "\n";
  if (d.plan_works && d.cure_by != CureBy::plan) {
    out << "Report      with the corrections that it has chosen " << in_percent(d.plan_trouble)
        << " of the spot is left in the one filling computed\n";
  }
  out << "Cure        " << say(d.cure_text, {r.job.units});
  for (const auto& step : d.cure_steps) out << "\n            " << say(step, {r.job.units});
  if (d.cure_by != CureBy::none) {
    out << "\n            re-computed: " << in_percent(d.cure_trouble)
        << " of the spot is left in the one filling computed";
    if (d.cure_chance.draws > 0) out << ", and it comes in " << of_parts(d.cure_chance);
    out << "; filling takes " << time_in_fill(d.cure_fill_time, r.nominal_filling.fill_time);
  }
  out << "\n";
}

}  // namespace

int run_diagnose(const DiagnoseArguments& arguments) {
  Job job = job::read_job(arguments.job);
  if (!arguments.output.empty()) job.output = arguments.output;
  const auto spots = read_spots(arguments, job.units);
  const DiagnoseOptions options = read_options(arguments);
  pipeline::validate(job);
  auto names = report::report_names(job.output);
  names.insert(names.end(), {"diagnosis.json", "diagnosis.html"});
  report::refuse_foreign(job.output, names);
  const Progress progress = terminal_progress(arguments.quiet);
  const Inspection r = pipeline::inspect(job, progress);
  if (r.doubt) {
    write_report_of(r, progress);
    clear_progress();
    end_in_doubt(r, "diagnosis");
  }
  const Diagnosis found = pipeline::diagnose(r, spots, options, progress);
  const std::string json = report::diagnosis_json(r, found);
  const auto files = report::page_files(json, "diagnosis");
  // The page leads to the report beside it; one that is there already may say more (--expects), and stays.
  if (std::filesystem::exists(job.output / "report.html")) {
    end_interrupts();
    report::write_set(job.output, files);
  } else {
    write_report_of(r, progress, files);
  }
  clear_progress();
  if (arguments.json) {
    std::cout << json;
  } else if (!arguments.quiet) {
    std::ostringstream out;
    for (const auto& d : found.spots) out << bold(say(d.headline, {job.units}), styled_terminal()) << "\n";
    out << job.name << "\n" << report::outcome_line(r) << "\n";
    for (const auto& d : found.spots) print_spot(r, d, out);
    out << "\n"
        << found.fillings << " fillings were computed. A spot counts as cured where it comes in fewer than "
        << in_percent(options.cured_below) << " of the parts.\n";
    if (found.unsettled > 0)
      out << say(Message("diagnosis.unsettled-fillings", {arg::number(found.unsettled), arg::number(found.fillings)}),
                 {job.units})
          << "\n";
    out << "\nReport      " << (job.output / "diagnosis.html").string() << "\n";
    std::cout << broken_at(out.str(), terminal_columns());
  }
  return 0;
}

}  // namespace gapfront::cli
