#include <cmath>
#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "core/nearest_word.hpp"
#include "gapfront/error.hpp"
#include "gapfront/instrument.hpp"
#include "gapfront/text.hpp"
#include "gapfront/units.hpp"

namespace gapfront::cli {
namespace {

/// A bound to a tenth of a micrometre, up, and as the job file writes it.
std::string bound(double mm) {
  char s[64];
  std::snprintf(s, sizeof s, "\"%.4f mm\"", std::ceil(1e4 * mm - 1e-6) / 1e4);
  return s;
}

std::string fixed_mm(double mm) {
  char s[64];
  std::snprintf(s, sizeof s, "%.4f mm", mm);
  return s;
}

struct Line {
  const char* key;
  double value;
  std::string remark;
};

std::vector<Line> lines_of(const InstrumentCheck& c) {
  std::vector<Line> out;
  if (c.model.constant > 0)
    out.push_back({"constant", c.model.constant,
                   "A of A + L/K, by " + std::to_string(c.lengths) + " lengths; largest error " +
                       fixed_mm(c.largest_error) + ", mean " + fixed_mm(c.mean_error)});
  if (c.model.per_metre > 0) {
    char scale[96] = "";
    if (c.scale_U > 0)
      std::snprintf(scale, sizeof scale, "; common to all lengths: %.0f ppm, U %.0f ppm", 1e6 * c.scale,
                    1e6 * c.scale_U);
    char longest[64];
    std::snprintf(longest, sizeof longest, "seen up to %.0f mm", c.longest);
    out.push_back({"per_metre", c.model.per_metre, longest + std::string(scale)});
  }
  if (c.model.probing > 0)
    out.push_back({"probing", c.model.probing, "by " + std::to_string(c.spheres) + " spheres, 95 % of the next one"});
  if (c.model.step > 0)
    out.push_back({"step", c.model.step, "by " + std::to_string(c.steps) + " steps between passes"});
  return out;
}

}  // namespace

int run_instrument(const InstrumentArguments& arguments) {
  double unit = 1;
  if (!arguments.unit.empty()) {
    const auto known = length_unit(arguments.unit);
    if (!known)
      throw Error(Fault::input,
                  "--unit: unknown unit \"" + arguments.unit + "\"; " + suggestion(arguments.unit, length_units()));
    unit = *known;
  }
  const InstrumentCheck check = scan::evaluate_check(scan::read_check(arguments.file, unit));
  const std::vector<Line> lines = lines_of(check);
  if (lines.empty())
    throw Error(Fault::input, arguments.file.string() +
                                  ": says nothing of the scanner yet: no sphere, no flat, no step and fewer than three "
                                  "lengths; measure eight lengths or more");
  if (arguments.json) {
    nlohmann::ordered_json j;
    for (const Line& l : lines) j[std::string(l.key) + "_mm"] = l.value;
    j["lengths"] = check.lengths, j["spheres"] = check.spheres, j["flats"] = check.flats, j["steps"] = check.steps;
    j["longest_mm"] = check.longest, j["largest_error_mm"] = check.largest_error;
    j["mean_error_mm"] = check.mean_error, j["scale"] = check.scale, j["scale_U"] = check.scale_U;
    j["doubts"] = nlohmann::ordered_json::array();
    for (const Message& m : check.doubts) j["doubts"].push_back(say(m));
    std::cout << j.dump(1) << "\n";
    return 0;
  }
  std::cout << "[instrument]  # " << arguments.file.filename().string() << "\n";
  for (const Line& l : lines) {
    const std::string entry = std::string(l.key) + " = " + bound(l.value);
    std::cout << entry << std::string(entry.size() < 28 ? 28 - entry.size() : 1, ' ') << "# " << l.remark << "\n";
  }
  for (const Message& m : check.doubts) std::cout << "# Doubt: " << say(m) << "\n";
  return 0;
}

}  // namespace gapfront::cli
