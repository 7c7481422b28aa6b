#include "cli/expected.hpp"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <ostream>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "gapfront/text.hpp"
#include "units/words.hpp"

namespace gapfront::cli {

Prediction read_prediction(const std::filesystem::path& result, const Job& job) {
  const auto file = std::filesystem::is_directory(result) ? result / "result.json" : result;
  std::ifstream in(file, std::ios::binary);
  if (!in) throw Error(Fault::input, "--expects: " + file.string() + ": cannot be opened; give an earlier result.json");
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  try {
    return pipeline::prediction_of(report::read_result(text), job);
  } catch (const Error& e) {
    throw Error(e.fault, "--expects: " + file.string() + ": " + e.what());
  }
}

void print_expected(const Inspection& r, std::ostream& out) {
  if (r.expects.empty()) return;
  out << "Predicted   by " << say(r.expects) << (r.confirmed.empty() ? ": not tested\n" : "\n");
  if (r.confirmed.empty()) return;
  for (const Message& m : r.expected_says) out << "            " << say(m, {r.job.units}) << "\n";
  char line[160];
  const UnitSystem u = r.job.units;
  const int decimals = u == UnitSystem::mm ? 3 : 4;
  const double unit = mm_per_unit(u);
  std::snprintf(line, sizeof line, "            %-10s %10s %10s %10s %10s %6s   (%s)\n", "", "before", "predicted",
                "achieved", "U", "En", length_unit(u));
  out << line;
  for (const auto& c : r.confirmed) {
    const std::string name = c.correction + (c.part.empty() ? "" : " " + c.part);
    if (c.can_tell)
      std::snprintf(line, sizeof line, "            %-10s %10.*f %10.*f %10.*f %10.*f %6.2f   ", name.c_str(), decimals,
                    c.before / unit, decimals, c.predicted / unit, decimals, c.achieved / unit, decimals,
                    std::hypot(c.predicted_U, c.achieved_U) / unit, c.En);
    else
      std::snprintf(line, sizeof line, "            %-10s %52s", name.c_str(), "");
    out << line << say(c.says, {u}) << "\n";
  }
}

}  // namespace gapfront::cli
