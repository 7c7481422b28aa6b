#include <cstdio>
#include <fstream>
#include <iostream>

#include "cli/commands.hpp"
#include "cli/terminal.hpp"
#include "gapfront/error.hpp"
#include "gapfront/history.hpp"
#include "gapfront/units.hpp"

namespace gapfront::cli {
namespace {

/// A history file, or the name of the tool whose history lies in the current folder.
std::filesystem::path find_history(const std::string& tool) {
  const std::filesystem::path named = tool + ".history";
  if (!std::filesystem::exists(tool) && !std::filesystem::exists(named))
    throw Error(Fault::input, tool + ": there is no such history: neither " + tool + " nor " + named.string() +
                                  " is in " + std::filesystem::current_path().string() +
                                  "; give the path of the history, which the first gapfront recheck of a tool makes");
  return !std::filesystem::is_regular_file(tool) && std::filesystem::exists(named) ? named
                                                                                   : std::filesystem::path(tool);
}

/// All inspections; those of the newest baseline with their fields.
std::vector<Record> all_records(const History& history) {
  auto all = history.list();
  for (auto& full : history.records())
    for (auto& r : all)
      if (r.id == full.id) {
        r = std::move(full);
        break;
      }
  return all;
}

void print_list(const History& history) {
  const auto all = history.list();
  std::cout << "Tool        " << harmless(history.tool()) << ", " << all.size()
            << (all.size() == 1 ? " inspection" : " inspections")
            << "\n\n  id  date          cycles  verdict           fill s   dry mm2  name\n";
  long sheet = 0;
  for (const Record& r : all) {
    char line[120];
    std::snprintf(line, sizeof line, "%4ld  %s  %8.0f  %-14s  %8.1f  %8.0f  ", r.id, r.date.c_str(), r.cycles,
                  r.verdict.c_str(), r.fill_time, r.dry_area);
    std::cout << line << harmless(r.name) << (r.sheet != sheet ? " (baseline)" : "") << "\n";
    sheet = r.sheet;
  }
}

void print_one(const Record& r, const std::string& file) {
  std::cout << "Inspection  " << r.id << " of " << file << "\nName        " << harmless(r.name) << "\nDate        "
            << r.date << ", " << static_cast<long>(r.cycles) << " cycles\nVerdict     " << r.verdict << "\nInstrument  "
            << (r.instrument.empty() ? "not named" : harmless(r.instrument)) << "\nFilling     "
            << format_time(r.fill_time) << ", dry " << format_area(r.dry_area, UnitSystem::mm) << "\nNote        "
            << harmless(r.note) << "\nMade by     gapfront " << r.version << "\nJob file    SHA-256 " << r.job_sha256
            << "\nLower scan  SHA-256 " << r.lower_sha256 << "\nUpper scan  SHA-256 " << r.upper_sha256 << "\n";
  if (r.gap.nodes.empty()) {
    std::cout << "Fields      on an earlier baseline\n";
    return;
  }
  std::size_t measured = 0;
  for (const auto& n : r.gap.nodes) measured += n.measured;
  std::cout << "Fields      " << measured << " of " << r.gap.nodes.size() << " places measured\n";
  for (const DatumPlace& d : r.datums) {
    char line[160];
    std::snprintf(line, sizeof line, "(%.3f, %.3f, %.3f) mm, upper half %.3f mm off\n", d.lower.x(), d.lower.y(),
                  d.lower.z(), (d.upper - d.lower).norm());
    std::cout << "Target " << harmless(d.name) << std::string(d.name.size() < 5 ? 5 - d.name.size() : 1, ' ') << line;
  }
}

/// By its id, or by its date where only one is of that day.
void remove_one(const std::filesystem::path& file, const std::string& which) {
  History history(file, History::Access::write);
  const auto all = history.list();
  std::vector<const Record*> meant;
  for (const Record& r : all)
    if (r.date == which || std::to_string(r.id) == which) meant.push_back(&r);
  if (meant.empty())
    throw Error(Fault::input, "--remove " + which + ": " + file.string() +
                                  " has no such inspection; gapfront history FILE lists them by id and date");
  if (meant.size() > 1)
    throw Error(Fault::input, "--remove " + which + ": " + std::to_string(meant.size()) +
                                  " inspections are of that day; give the id, which gapfront history FILE lists");
  const Record gone = *meant[0];
  history.remove(gone.id);
  std::cout << "Removed inspection " << gone.id << " of " << gone.date << " (" << static_cast<long>(gone.cycles)
            << " cycles) from " << file.string() << "\n";
}

}  // namespace

int run_history(const HistoryArguments& arguments) {
  const auto file = find_history(arguments.tool);
  if (!arguments.remove.empty()) {
    remove_one(file, arguments.remove);
    return 0;
  }
  const History history(file, History::Access::read);
  if (arguments.check) {
    const auto faults = history.check();
    if (!faults.empty())
      throw Error(Fault::input, file.string() + ": " + faults[0] +
                                    (faults.size() > 1 ? " (and " + std::to_string(faults.size() - 1) + " more)" : "") +
                                    "; take the last good copy of the file");
    std::cout << file.string() << ": sound, " << history.list().size() << " inspections, layout " << history.version()
              << "\n";
  } else if (arguments.csv) {
    std::cout << history::history_csv(all_records(history), history.sheet().value_or(Sheet{}));
  } else if (arguments.show) {
    for (const Record& r : all_records(history))
      if (r.id == *arguments.show) {
        print_one(r, file.string());
        return 0;
      }
    throw Error(Fault::input, file.string() + ": there is no inspection " + std::to_string(*arguments.show) +
                                  "; gapfront history FILE lists them");
  } else {
    print_list(history);
  }
  return 0;
}

}  // namespace gapfront::cli
