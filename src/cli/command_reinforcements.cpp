#include <cmath>
#include <iostream>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "gapfront/bench_sheet.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/report.hpp"

namespace gapfront::cli {

int run_reinforcements(const ReinforcementsArguments& arguments) {
  const bool json = arguments.json;
  if (!arguments.sheet.empty()) {
    report::write_file(arguments.sheet, report::bench_sheet_html(arguments.language.empty() ? "en" : arguments.language,
                                                                 UnitSystem::mm));
    std::cout << "Sheet       " << arguments.sheet.string() << "\n";
    return 0;
  }
  auto all = nlohmann::ordered_json::array();
  for (const Reinforcement& r : laminate::reinforcements()) {
    nlohmann::ordered_json numbers = nlohmann::ordered_json::array();
    for (const auto& n : r.numbers)
      numbers.push_back({{"what", n.what}, {"value", n.value}, {"uncertainty", n.uncertainty}, {"source", n.source}});
    // In the units that a job is written in, so that a value can be taken over as it stands.
    all.push_back({{"glass", r.name},
                   {"areal_weight_g_per_m2", r.areal_weight * 1e6},
                   {"loft_mm", r.loft},
                   {"density_g_per_cm3", r.density * 1e3},
                   {"permeability",
                    {{"law", "power"},
                     {"a_m2", std::round(r.permeability.a * 1e-6 * 1e15) / 1e15},  // of 1e-11: without binary dust
                     {"b", r.permeability.b},
                     {"ratio", r.permeability.ratio},
                     {"scatter", r.permeability.spread}}},
                   {"compaction", {{"law", "power"}, {"a", r.compaction.a}, {"b", r.compaction.b}}},
                   {"numbers", numbers}});
  }
  if (json) {
    std::cout << all.dump(2) << "\n";
    return 0;
  }
  std::cout << "Built-in reinforcements: starting values of one ply. Your own measured numbers always win; give them\n"
               "beside the name: glass = \"woven roving 600\", loft = \"0.8 mm\".\n";
  for (const Reinforcement& r : laminate::reinforcements()) {
    std::cout << "\n" << r.name << "\n";
    for (const auto& n : r.numbers)
      std::cout << "  " << n.what << ": " << n.value << (n.uncertainty.empty() ? "" : ", ") << n.uncertainty
                << "\n      source: " << n.source << "\n";
  }
  return 0;
}

}  // namespace gapfront::cli
