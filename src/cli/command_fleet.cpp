#include <ctime>
#include <iostream>

#include "cli/commands.hpp"
#include "cli/terminal.hpp"
#include "gapfront/error.hpp"
#include "gapfront/fleet.hpp"
#include "gapfront/report.hpp"
#include "units/words.hpp"

namespace gapfront::cli {
namespace {

std::string today() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  ::localtime_r(&now, &local);
  char text[16];
  std::strftime(text, sizeof text, "%Y-%m-%d", &local);
  return text;
}

/// The first few; all are on the page.
constexpr std::size_t kToolsShown = 5;

void print_fleet(const Fleet& fleet, const std::filesystem::path& page, const std::filesystem::path& table) {
  std::size_t quiet = 0;
  for (const FleetTool& t : fleet.tools) quiet += t.attention == Attention::none;
  std::cout << say(Message("fleet.tools", {static_cast<long>(fleet.tools.size())})) << ", "
            << fleet.tools.size() - quiet << " ask for work or for a look\n";
  for (std::size_t i = 0; i < std::min(kToolsShown, fleet.tools.size() - quiet); ++i) {
    const FleetTool& t = fleet.tools[i];
    std::cout << words("%2zu  ", i + 1) << harmless(t.tool)
              << (t.namesake ? " (" + harmless(t.read_from.string()) + ")" : "") << ": "
              << say(report::asks_for(t.attention)) << ". " << harmless(say(report::work_for(t, t.attention))) << "\n";
  }
  std::cout << "\nPage        " << page.string() << "\nTable       " << table.string() << "\n";
}

}  // namespace

int run_fleet(const FleetArguments& arguments) {
  const std::string day = arguments.day.empty() ? today() : arguments.day;
  if (!day_number(day))
    throw Error(Fault::input, "--day " + day + ": is no day; write year-month-day, e.g. 2026-03-02");
  Fleet fleet = report::read_fleet(arguments.folder, day);
  if (!arguments.language.empty()) fleet.voice.language = arguments.language;
  if (fleet.tools.empty() && fleet.lost.empty())
    throw Error(Fault::input, arguments.folder.string() +
                                  ": no history, result.json or recheck.json is in it; gapfront inspect writes them");
  const auto page = arguments.output.empty() ? (arguments.folder / "fleet.html").lexically_normal() : arguments.output;
  const auto table = std::filesystem::path(page).replace_extension(".csv");
  const auto from = page.has_parent_path() ? page.parent_path() : std::filesystem::path(".");
  report::write_file(page, report::fleet_html(fleet, from));
  report::write_file(table, report::fleet_csv(fleet, from));
  print_fleet(fleet, page, table);
  std::cout.flush();
  for (const std::string& line : fleet.lost) std::cerr << "gapfront: " << harmless(line) << "\n";
  return fleet.lost.empty() ? 0 : 1;
}

}  // namespace gapfront::cli
